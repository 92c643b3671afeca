"""What is cut: one entry of the cutting list, ready to be laid.

Words
-----
cut piece
    One shape to cut from one role of cloth, with its number of like copies. A mirrored pair is two cut
    pieces, as drawn and mirrored, so that a left and a right are never two lefts.
grain rule
    How the piece may lie to the warp of the cloth. In its own frame a piece's grain runs along +y.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from eke.cloth import HIDDEN, SOUND, Quality, Ring
from eke.errors import BadInput
from eke.pattern.model import Piece, Role

GrainRule = Literal["along", "cross", "bias", "any"]
"""``along``: grain on the warp; ``cross``: on the warp or square to it; ``bias``: at 45° to it; ``any``: free."""

TURNS: Final[dict[GrainRule, tuple[float, ...] | None]] = {
    "along": (0.0, 180.0),
    "cross": (0.0, 90.0, 180.0, 270.0),
    "bias": (45.0, 135.0, 225.0, 315.0),
    "any": None,
}
"""Turns in degrees, counter-clockwise, that bring a piece's +y from the warp to where the rule allows it."""
ONE_WAY_TURNS: Final[dict[GrainRule, tuple[float, ...]]] = {
    "along": (0.0,),
    "cross": (0.0,),
    "bias": (45.0, 315.0),
    "any": (0.0,),
}
"""The same on cloth with a direction, where the top of every piece points along the warp."""

MAX_TILT_DEG: Final[dict[bool, float]] = {False: 2.0, True: 5.0}
"""Tilt off the grain at most: 2° where it is seen, 5° where hidden (common practice)."""


PAIR_MARK: Final = "/mirrored"
"""What the id of the other half of a pair ends with."""


@dataclass(frozen=True, slots=True)
class CutPiece:
    """One shape to cut.

    Parameters
    ----------
    id
        ``piece/role`` with ``/mirrored`` for the other half of a pair.
    piece
        The id of the pattern piece or derived piece.
    name
        What the maker reads.
    outline
        The cut line, mm, grain along +y, mirrored already where it is the mirrored one.
    net
        The seam line in the same frame.
    copies
        How many like this.
    mirrored
        The mirror image of what was drawn.
    grain, tilt_deg
        The grain rule, and how far it may deviate.
    hidden
        Nobody sees it in wear (facing, lining, pocket bag): it may come from a poorer place or cloth.
    priority
        1 must be on the cloth, 2 should, 3 is nice to have.
    least_quality
        The poorest cloth that is good enough.
    same_turn
        Pieces with the same word here are all laid the same way up.
    source
        The piece that it was made from, with its allowances, where it came from a pattern.
    pieced
        What has been joined from parts to save cloth, in words.
    """

    id: str
    piece: str
    name: str
    role: Role
    outline: Ring
    net: Ring = ()
    copies: int = 1
    mirrored: bool = False
    grain: GrainRule = "along"
    tilt_deg: float = 0.0
    hidden: bool = False
    priority: int = 1
    least_quality: Quality = SOUND
    same_turn: str | None = None
    source: Source | None = field(default=None, repr=False)
    pieced: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.copies < 1:
            raise BadInput(f"“{self.name}” must be cut at least once, not {self.copies} times.")
        if self.grain not in TURNS:
            raise BadInput(f"The grain of “{self.name}” lies along, cross, bias or any, not “{self.grain}”.")
        if not 0.0 <= self.tilt_deg <= 45.0:
            raise BadInput(
                f"“{self.name}” cannot be tilted by {self.tilt_deg:g}°. Up to 5° is usual at most."
            )

    @property
    def points(self) -> NDArray[np.float64]:
        """The cut line as an ``(n, 2)`` array in mm."""
        return np.array(self.outline, dtype=np.float64)

    @property
    def polygon(self) -> Polygon:
        """The cut line as a shapely polygon."""
        return Polygon(self.outline)

    @property
    def area_mm2(self) -> float:
        """Area inside the cut line, of one copy."""
        return float(self.polygon.area)

    def turns(self, *, one_way: bool) -> tuple[float, ...] | None:
        """Turns allowed on cloth with or without a direction; ``None``: turned freely."""
        return ONE_WAY_TURNS[self.grain] if one_way else TURNS[self.grain]


@dataclass(frozen=True, slots=True)
class Source:
    """Where a cut piece came from, so that it can be cut with other allowances.

    ``piece`` is the piece as drawn, every edge with the allowance that it was cut with; ``first_at`` says
    which of two seams is sewn first at a corner; ``whole`` says that the half was unfolded.
    """

    piece: Piece
    first_at: tuple[tuple[tuple[str, str], str], ...] = ()
    whole: bool = True


def hidden_quality(hidden: bool) -> Quality:
    """The poorest cloth for a piece that is hidden, or seen."""
    return HIDDEN if hidden else SOUND


def total_area_mm2(pieces: Iterable[CutPiece]) -> float:
    """Area of all copies of all pieces."""
    return sum(piece.area_mm2 * piece.copies for piece in pieces)


def mirrored(piece: CutPiece, name: str) -> CutPiece:
    """Return the mirror image (x → −x), counter-clockwise again, as the other half of a pair."""
    return replace(
        piece,
        id=f"{piece.id}{PAIR_MARK}",
        name=name,
        outline=_flip(piece.outline),
        net=_flip(piece.net),
        mirrored=not piece.mirrored,
    )


def fingerprint(pieces: Iterable[CutPiece]) -> str:
    """A short word that changes when anything changes that a lay depends on."""
    facts = [
        [p.id, p.copies, p.grain, p.tilt_deg, p.priority, p.least_quality, p.same_turn,
         [[round(x, 3), round(y, 3)] for x, y in p.outline]]
        for p in sorted(pieces, key=lambda p: p.id)
    ]  # fmt: skip
    return hashlib.sha256(json.dumps(facts).encode()).hexdigest()[:16]


def _flip(ring: Ring) -> Ring:
    return tuple((-x, y) for x, y in reversed(ring))
