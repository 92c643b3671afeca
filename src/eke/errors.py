"""The error tree. A message says what happened, where, how much, what was kept and what to do next.

::

    EkeError
    ├── BadInput            the maker or a file gave something that cannot be used      exit code 2
    │   ├── BadPicture      a photograph that cannot be read at all
    │   ├── BadShape        an outline that crosses itself, has no area, …
    │   └── NotFound        a name or id that is not there
    ├── HonestNo            all input was good, the answer is no                        exit code 3
    │   ├── DoesNotFit      the pieces do not fit on the cloth
    │   └── NotTrustworthy  too inaccurate to promise
    ├── ChangeConflict      a change that cannot be applied to the state before it
    ├── Stopped             the maker stopped a long computation; nothing was changed
    └── StoreTrouble        the workroom cannot be read or written: locked, corrupt, disk full   exit code 2

Things found wrong in a pattern are not errors but findings: see :mod:`eke.findings`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


class EkeError(Exception):
    """Root of all errors that Eke raises on purpose; ``data`` holds ids and values for the rim."""

    exit_code = 2

    def __init__(self, message: str, **data: Any) -> None:
        super().__init__(message)
        self.message = message
        self.data: Mapping[str, Any] = data


class BadInput(EkeError, ValueError):
    """Something given by the maker or a file cannot be used."""


class BadPicture(BadInput):
    """A picture that cannot be read: no image, damaged, too large."""


class BadShape(BadInput):
    """An outline that crosses itself, has no area or is otherwise no shape."""


class NotFound(BadInput, LookupError):
    """A name or id that is not there."""


class HonestNo(EkeError):
    """All input was good and the answer is no."""

    exit_code = 3


class DoesNotFit(HonestNo):
    """The pieces do not fit on the cloth; ``data`` says what is missing and by how much."""


class NotTrustworthy(HonestNo):
    """A measurement too inaccurate to promise; the message says how to take it again."""


class ChangeConflict(EkeError):
    """A change that cannot be applied to the state before it; ``data`` names ids and candidates."""


class Stopped(EkeError):
    """The maker stopped a long computation; nothing was changed."""


class StoreTrouble(EkeError):
    """The workroom cannot be read or written."""
