"""The workroom: projects, garments, what the app needs to begin."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from eke.web.models.common import Model, Picture, StepBack


class GarmentCard(Model):
    """A garment as the first screen shows it."""

    id: str
    name: str
    pieces: int
    attention: int
    """How many findings ask for attention."""
    picture: Picture | None = None


class ProjectCard(Model):
    """A project as the first screen shows it."""

    id: str
    name: str
    budget: str | None
    left: str | None
    garments: list[GarmentCard]


class KindView(Model):
    """A word for programs and one for the maker, with a sentence."""

    word: str
    name: str
    sentence: str = ""


class WorkroomView(Model):
    """The first screen."""

    name: str
    folder: str
    version: str
    revision: int
    projects: list[ProjectCard]
    cloths: int
    steps: StepBack


class ProjectSaid(Model):
    """A new project."""

    name: str
    budget: str | None = None
    currency: str = "EUR"


class GarmentSaid(Model):
    """A new garment of a project."""

    name: str
    facts: dict[str, Any] = Field(default_factory=dict)


class JobView(Model):
    """A long computation."""

    id: str
    what: Literal["trace", "lay", "paper", "backup"]
    subject: str
    """Id of the photograph, or garment, that it works for."""
    title: str
    state: Literal["waiting", "running", "done", "stopped", "failed"]
    fraction: float | None
    sentence: str
    """What is being done, or what came of it."""
    result: dict[str, Any] | None = None
    """Improved answer so far of a lay (a LayView as JSON), or facts of the result."""


class RevisionEvent(Model):
    """Sent to every window when a history, or something kept beside one, has changed."""

    log: str
    """Id of the garment, or ``workroom``."""
    revision: int
    sentence: str
    about: Literal["history", "photographs", "lay", "ticks"] = "history"


class PhoneView(Model):
    """The upload page for the phone: off, or open for a while."""

    open: bool
    address: str | None = None
    qr_svg: str | None = None
    expires_at: str | None = None
    used: bool = False
    received: int = 0
    sentence: str = ""


class PhoneSaid(Model):
    """Open the upload page: pictures go to this garment, or to the shelf."""

    subject: str
    cloth: bool = False
