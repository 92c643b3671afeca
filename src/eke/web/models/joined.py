"""Photographs that are joined."""

from __future__ import annotations

from eke.web.models.common import Model


class JoinSaid(Model):
    """Photographs that show parts of one paper or cloth."""

    photographs: list[str]
    """Their ids; the joined picture is held as the first."""
