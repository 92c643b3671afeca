"""The shelf: what a workroom holds. Projects and their garments, cloths, notions, money, confirmed cuts.

Words
-----
reservation
    A cloth, or a part of it, is kept for one project.
holding
    How much of a bought thing a cloth stands for, in whole units of the ledger's item. A cut shares the
    units of a cloth among what was used and the offcuts, so the money always adds up.
cut
    A confirmed cut: pieces of one garment's revision taken out of cloths, which left offcuts. The cloths
    are kept in it as they were, so that the cut can be taken back.

All values are frozen; the changes in :mod:`eke.cloth.shelf_changes` return new ones.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

from eke.cloth.cloth import Cloth, Ring
from eke.errors import ChangeConflict
from eke.ledger import Ledger, Notion


def _nothing() -> Mapping[str, Any]:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Garment:
    """A garment of a project, by its id; its pattern has a history of its own."""

    id: str
    name: str


@dataclass(frozen=True, slots=True)
class Project:
    """A project: one or more garments that are made together."""

    id: str
    name: str
    garments: tuple[Garment, ...] = ()


@dataclass(frozen=True, slots=True)
class Reservation:
    """``cloth`` is kept for ``project``: all of it, or the part within ``part`` (mm in the cloth's frame)."""

    cloth: str
    project: str
    part: Ring | None = None


@dataclass(frozen=True, slots=True)
class Holding:
    """A cloth stands for ``units`` whole units of the ledger's ``item``."""

    item: str
    units: int


@dataclass(frozen=True, slots=True)
class CutPlacement:
    """One piece as it was cut: its cut outline in the cloth's frame."""

    piece: str
    name: str
    cloth: str
    outline: Ring


@dataclass(frozen=True, slots=True)
class Cut:
    """A confirmed cut of ``garment`` at ``revision``.

    ``cloths`` and ``holdings`` are as they were before; ``offcuts`` are the ids of what was left.
    ``cut_mm2`` is the area of the pieces, ``waste_mm2`` what became neither piece nor offcut.
    """

    id: str
    garment: str
    revision: str
    placements: tuple[CutPlacement, ...]
    cloths: tuple[Cloth, ...]
    holdings: tuple[Holding, ...]
    reservations: tuple[Reservation, ...]
    offcuts: tuple[str, ...]
    cut_mm2: float
    waste_mm2: float


@dataclass(frozen=True, slots=True)
class Shelf:
    """The state of a workroom. ``cloths`` are those there now; cut ones are in ``cuts``."""

    projects: Mapping[str, Project] = field(default_factory=_nothing)
    cloths: Mapping[str, Cloth] = field(default_factory=_nothing)
    holdings: Mapping[str, Holding] = field(default_factory=_nothing)
    notions: Mapping[str, Notion] = field(default_factory=_nothing)
    ledger: Ledger = field(default_factory=Ledger)
    reservations: tuple[Reservation, ...] = ()
    cuts: Mapping[str, Cut] = field(default_factory=_nothing)

    # ---- looking up, by the names that a maker gave

    def project(self, project_id: str) -> Project:
        """The project of that id. Raises :class:`ChangeConflict`."""
        found = self.projects.get(project_id)
        if found is None:
            raise ChangeConflict(f"There is no project “{project_id}” in this workroom.", project=project_id)
        return found

    def garment(self, garment_id: str) -> tuple[Project, Garment]:
        """The garment of that id and its project. Raises :class:`ChangeConflict`."""
        for project in self.projects.values():
            for garment in project.garments:
                if garment.id == garment_id:
                    return project, garment
        raise ChangeConflict(f"There is no garment “{garment_id}” in this workroom.", garment=garment_id)

    def cloth(self, cloth_id: str) -> Cloth:
        """The cloth of that id, if it is there now.

        Raises
        ------
        ChangeConflict
            When it never was, or has been cut (then with the name of the garment that it went into).
        """
        found = self.cloths.get(cloth_id)
        if found is not None:
            return found
        for cut in self.cuts.values():
            for gone in cut.cloths:
                if gone.id == cloth_id:
                    raise ChangeConflict(
                        f"“{gone.name}” has been cut for “{self.garment_name(cut.garment)}”. Use one of its offcuts, or "
                        "take the cut back.",
                        cloth=cloth_id,
                        cut=cut.id,
                        offcuts=cut.offcuts,
                    )
        raise ChangeConflict(f"There is no cloth “{cloth_id}” on the shelf.", cloth=cloth_id)

    def notion(self, notion_id: str) -> Notion:
        """The notion of that id. Raises :class:`ChangeConflict`."""
        found = self.notions.get(notion_id)
        if found is None:
            raise ChangeConflict(f"There are no notions “{notion_id}” on the shelf.", notion=notion_id)
        return found

    def garment_name(self, garment_id: str) -> str:
        """The garment's name, or its id where it is not known."""
        for project in self.projects.values():
            for garment in project.garments:
                if garment.id == garment_id:
                    return garment.name
        return garment_id

    def project_name(self, project_id: str) -> str:
        """The project's name, or its id where it is not known."""
        found = self.projects.get(project_id)
        return found.name if found is not None else project_id

    def reserved_by(self, cloth_id: str) -> tuple[Reservation, ...]:
        """The reservations on a cloth."""
        return tuple(r for r in self.reservations if r.cloth == cloth_id)

    def cloths_for(self, project_id: str) -> tuple[Cloth, ...]:
        """The cloths reserved by a project, whole or in part, in the order in which it reserved them."""
        ids = dict.fromkeys(r.cloth for r in self.reservations if r.project == project_id)
        return tuple(self.cloths[cloth_id] for cloth_id in ids if cloth_id in self.cloths)

    def cuts_of(self, garment_id: str) -> tuple[Cut, ...]:
        """The confirmed cuts of a garment, oldest first."""
        return tuple(cut for cut in self.cuts.values() if cut.garment == garment_id)

    # ---- returning a changed shelf

    def with_cloth(self, cloth: Cloth, holding: Holding | None = None) -> Shelf:
        """Return the shelf with ``cloth`` on it, or exchanged."""
        holdings = self.holdings if holding is None else {**self.holdings, cloth.id: holding}
        return replace(self, cloths={**self.cloths, cloth.id: cloth}, holdings=holdings)

    def without_cloth(self, cloth_id: str) -> Shelf:
        """Return the shelf without that cloth, its holding and its reservations."""
        return replace(
            self,
            cloths={k: c for k, c in self.cloths.items() if k != cloth_id},
            holdings={k: h for k, h in self.holdings.items() if k != cloth_id},
            reservations=tuple(r for r in self.reservations if r.cloth != cloth_id),
        )

    def with_project(self, project: Project) -> Shelf:
        """Return the shelf with ``project`` added or exchanged."""
        return replace(self, projects={**self.projects, project.id: project})

    def with_notion(self, notion: Notion) -> Shelf:
        """Return the shelf with ``notion`` added or exchanged."""
        return replace(self, notions={**self.notions, notion.id: notion})
