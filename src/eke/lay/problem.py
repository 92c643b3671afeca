"""What is to be laid on what: parts, sheets, a strip, the rules between them, and the answer.

Words
-----
part
    An outline with a number of copies and the rules for laying it.
sheet
    One flat material: an outline, holes, and zones of lower quality.
strip
    A sheet of a given height (along y) and open length (along x), to be used as short as can be.
turn
    An angle in degrees, counter-clockwise, by which a part may be turned from how it was drawn.
tilt
    A small angle on top of a turn.
rail
    A line that a part slides along and may not leave: a fold, or a named edge of a sheet.
phase
    Where a point lies in the repeat of a sheet's stripes: 0 on the line through the repeat's origin, rising
    to 1 one period on.
placement
    Mirror about the y axis first (x → −x), turn about (0, 0), then move.

All values are millimetres and degrees. Outlines are ``(n, 2)`` arrays, closed, the first point not
repeated; direction does not matter on input.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

PointsMm = NDArray[np.float64]
"""Points in millimetres, shape ``(n, 2)``."""

FULL_QUALITY: Final = float("inf")
"""A part that accepts no zone of lower quality at all."""
PHASE_TOLERANCE_MM: Final = 1.0
"""How far off its phase a point may be unless it says otherwise: about a line of chalk."""


@dataclass(frozen=True, slots=True)
class EdgeRule:
    """A straight stretch of a part's outline that belongs on a named edge of a sheet.

    ``stretch`` is the index ``k`` of the stretch from outline point ``k`` to ``k + 1``; ``kind`` the kind of
    edge, or ``""`` for any that has a name. With ``must`` the stretch lies on such an edge along its whole
    length; else it may, and such places are offered to the search. Either way the gap to the edge is not asked
    of this part along edges of that kind: there is nothing there to keep away from.
    """

    stretch: int
    kind: str = ""
    must: bool = True


@dataclass(frozen=True, slots=True)
class TiltPair:
    """Parts with the same ``name`` are tilted off their turns by one common amount, mirror-wise.

    One that is the mirror image of the others (``mirrored`` here, or laid mirrored) is tilted the other way,
    so that a left and a right piece hang alike.
    """

    name: str
    mirrored: bool = False


@dataclass(frozen=True, slots=True)
class PhaseRule:
    """A point of a part that must lie at a phase of a sheet's stripes.

    Parameters
    ----------
    at
        The point in the part's own frame, mm.
    repeat
        The name of the repeat; on a sheet that has none of that name the rule asks nothing.
    phase
        0 … 1, or ``None`` where only ``match`` counts.
    match
        All points with the same word here lie at one common phase of the repeat, whatever it is.
    tolerance_mm
        How far off a point may be, across the stripes; for ``match``, how far two points may differ.
    """

    at: tuple[float, float]
    repeat: str
    phase: float | None = None
    match: str | None = None
    tolerance_mm: float = PHASE_TOLERANCE_MM


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """An outline, how often it is needed, and how it may lie.

    Parameters
    ----------
    id
        The name that the answer uses.
    outline
        Points in mm, shape ``(n, 2)``.
    count
        Copies needed.
    turns
        Angles in degrees that are allowed; ``None`` when the part may be turned freely.
    tilt_deg
        How far it may deviate from each of ``turns``.
    mirror_allowed
        Whether the part may be turned over.
    priority
        1 must be on, 2 should, 3 is nice to have (any positive number).
    min_quality
        Least quality of a zone that the part accepts; ``None`` accepts all, ``FULL_QUALITY`` none.
    same_turn
        Parts (and copies) with the same name here all lie at the same turn and are mirrored alike.
    gap_mm
        Own distance to any other part, where it is more than the problem's.
    gap_edge_mm, gap_hole_mm
        Own distances to the outline of a sheet and to its holes, where they differ from the problem's.
    on_fold
        Index ``k`` of the straight stretch from outline point ``k`` to ``k + 1`` that must lie on the
        fold line of a sheet; such a part lies on sheets with a fold only.
    on_edge
        Stretches that must or may lie on a named edge of a sheet; all that must, do.
    tilt_pair
        With whom the part shares its tilt.
    phases
        Points that lie at a phase of the stripes.
    """

    id: str
    outline: PointsMm
    count: int = 1
    turns: Sequence[float] | None = (0.0,)
    tilt_deg: float = 0.0
    mirror_allowed: bool = False
    priority: int = 1
    min_quality: float | None = None
    same_turn: str | None = None
    gap_mm: float | None = None
    gap_edge_mm: float | None = None
    gap_hole_mm: float | None = None
    on_fold: int | None = None
    on_edge: Sequence[EdgeRule] = ()
    tilt_pair: TiltPair | None = None
    phases: Sequence[PhaseRule] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """A stretch of a sheet of lower quality; parts that ask for more keep off it."""

    polygon: PointsMm
    quality: float


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """A stretch of a sheet's outline with a name of its own kind (``"selvedge"``, ``"hem"``): a line on it."""

    kind: str
    line: PointsMm


@dataclass(frozen=True, slots=True)
class Repeat:
    """Stripes of a sheet: they come again every ``period_mm`` along ``direction_deg``; checks are two of these.

    ``origin`` is any point of the sheet where the phase is 0.
    """

    name: str
    period_mm: float
    direction_deg: float = 0.0
    origin: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A flat material with an outline, holes and zones; ``cost`` weighs its use against others'.

    ``fold`` is the line (two points on the outline) along which the material is folded in two layers; the
    outline is that of the folded material, each part on it is cut through both layers, and nothing is cut
    along the fold, so the gap to the edge does not apply there. ``edges`` are stretches of the outline that
    parts may ask for, ``repeats`` its stripes.
    """

    id: str
    outline: PointsMm
    holes: Sequence[PointsMm] = ()
    zones: Sequence[Zone] = ()
    cost: float = 1.0
    fold: tuple[tuple[float, float], tuple[float, float]] | None = None
    edges: Sequence[Edge] = ()
    repeats: Sequence[Repeat] = ()


@dataclass(frozen=True, slots=True)
class Strip:
    """Material of fixed height (y) and open length (x), used from x = 0."""

    height_mm: float


@dataclass(frozen=True, slots=True)
class Placement:
    """One copy laid: mirrored about the y axis first, turned about (0, 0), then moved."""

    part: str
    sheet: str | None
    turn_deg: float
    x_mm: float
    y_mm: float
    mirrored: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """Parts, and either sheets or a strip to lay them on.

    ``locked`` placements stay where they are; they count as copies of their parts. ``start`` is where parts were
    dragged to, for the search to begin from: complete or not, sound or not. ``name`` and ``fill`` are carried
    through to the answer.
    """

    parts: Sequence[Part]
    sheets: Sequence[Sheet] = ()
    strip: Strip | None = None
    gap_parts_mm: float = 0.0
    gap_edge_mm: float = 0.0
    gap_hole_mm: float = 0.0
    locked: Sequence[Placement] = ()
    name: str = ""
    fill: float | None = None
    start: Sequence[Placement] = ()


@dataclass(frozen=True, slots=True)
class Clash:
    """Two neighbours that the search could not part: the second is ``None`` for the sheet itself.

    ``depth_mm`` is about how far they would have to be moved or narrowed.
    """

    part: str
    other: str | None
    depth_mm: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """How the lay ended, in words and numbers.

    Parameters
    ----------
    complete
        Every copy is on.
    proof
        A sentence that proves that not everything can fit, or ``None`` where nothing is proved.
    clashes
        Where the closest attempt with all parts on still overlapped, worst first.
    area_short_mm2
        Area of the parts that are missing.
    sentence
        The whole in one sentence.
    """

    complete: bool
    proof: str | None = None
    clashes: tuple[Clash, ...] = ()
    area_short_mm2: float = 0.0
    sentence: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """A lay that has passed the exact check, and what is missing from it.

    ``unplaced`` maps part ids to missing copies. ``length_mm`` is the used length of a strip,
    ``area_share`` the share of the parts' area that is on, ``passes`` the passes of the search that
    were made in all and ``tried`` the number of positions that were weighed.
    """

    placements: tuple[Placement, ...]
    unplaced: dict[str, int]
    seed: int
    seconds: float
    passes: int
    verdict: Verdict
    tried: int = 0
    length_mm: float | None = None
    area_share: float = 0.0
    sheets_used: tuple[str, ...] = ()
    problem: Problem | None = field(default=None, repr=False)

    @property
    def complete(self) -> bool:
        """Whether every copy is on."""
        return self.verdict.complete
