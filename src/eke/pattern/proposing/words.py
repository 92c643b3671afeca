"""What the names of edges and pieces say of the seam that they belong to: words of the trade, in groups."""

from __future__ import annotations

from typing import Final

GROUPS: Final[tuple[frozenset[str], ...]] = (
    frozenset({"armhole", "armscye", "scye", "cap", "crown", "sleevehead"}),
    frozenset({"neck", "neckline", "collar", "stand", "neckband"}),
    frozenset({"waist", "waistline", "waistband"}),
    frozenset({"wrist", "cuff"}),
    frozenset({"shoulder"}),
    frozenset({"side", "outseam", "outside"}),
    frozenset({"inseam", "inside"}),
    frozenset({"underarm"}),
    frozenset({"crotch", "fork", "rise", "seat"}),
    frozenset({"yoke"}),
    frozenset({"princess", "panel"}),
    frozenset({"raglan"}),
    frozenset({"gusset"}),
    frozenset({"elbow"}),
    frozenset({"centre", "center", "middle"}),
)
"""Edges of one group are sewn to each other."""


def _group(word: str) -> int:
    return next(number for number, group in enumerate(GROUPS) if word in group)


ARMHOLE: Final = _group("armhole")
NECK: Final = _group("neck")
WAIST: Final = _group("waist")
SHOULDER: Final = _group("shoulder")
RAGLAN: Final = _group("raglan")
YOKE: Final = _group("yoke")
"""Numbers of groups that are spoken of elsewhere."""

OF_PIECE: Final[dict[str, int]] = {
    "sleeve": 0,
    "collar": 1,
    "stand": 1,
    "neckband": 1,
    "hood": 1,
    "waistband": 2,
    "peplum": 2,
    "cuff": 3,
    "yoke": 9,
    "gusset": 12,
}
"""A piece of that name is sewn, with its longest side, to edges of that group."""

HEM_WORDS: Final = frozenset({"hem", "fold"})
"""An edge with such a name is not sewn to another."""
_EMPTY: Final = frozenset({"seam", "edge", "line", "the", "and", "piece", "left", "right", "front", "back"})
"""Words that say nothing of which seam it is."""


def words_of(name: str) -> frozenset[str]:
    """Return the words of a name that may say which seam it is."""
    words = name.lower().replace("_", " ").replace("-", " ").split()
    return frozenset(w for w in words if len(w) > 2) - _EMPTY


def groups_of(words: frozenset[str]) -> frozenset[int]:
    """Return the numbers of the groups that these words belong to."""
    return frozenset(k for k, group in enumerate(GROUPS) if words & group)


def wanted_by(piece_words: frozenset[str]) -> frozenset[int]:
    """Return the groups that a piece of that name is sewn to."""
    return frozenset(OF_PIECE[w] for w in piece_words if w in OF_PIECE) | groups_of(piece_words)
