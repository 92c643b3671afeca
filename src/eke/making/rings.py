"""Working flat as long as possible: which seams close a ring, and which do not yet."""

from __future__ import annotations

from eke.making.seams import Making
from eke.pattern.model import RunPart, Seam


class Rings:
    """Which pieces hang together already, so that one knows which seam closes a ring.

    A union-find structure over pieces, left and right apart where a piece is cut as a pair.
    """

    def __init__(self, making: Making) -> None:
        self.making = making
        self._parent: dict[tuple[str, str], tuple[str, str]] = {}

    def stage(self, seam: Seam) -> float:
        """Where a seam belongs by its layers, and whether it closes a ring."""
        layers = self.making.layers_of(seam)
        if layers == {"outer"}:
            return 30.0 if self.closes(seam) else 20.0
        if layers == {"facing"}:
            return 26.0
        if layers == {"lining"}:
            return 46.0 if self.closes(seam) else 45.0
        return 50.0 if "lining" in layers else 35.0

    def closes(self, seam: Seam) -> bool:
        """Whether sewing it joins what hangs together already."""
        trial = dict(self._parent)
        return any(not self._join(trial, a, b) for a, b in self._joints(seam))

    def sew(self, seam: Seam) -> None:
        """Remember that it has been sewn."""
        for a, b in self._joints(seam):
            self._join(self._parent, a, b)

    def _joints(self, seam: Seam) -> list[tuple[tuple[str, str], tuple[str, str]]]:
        # first with first: a run over several pieces (a sleeve in an armhole) is set in flat before rings close
        found = []
        for a, b in zip(seam.a, seam.b, strict=False):
            for side, other in (("left", "right"), ("right", "left")):
                one, two = sorted((self._node(a, side), self._node(b, other if seam.b_mirrored else side)))
                found.append((one, two))
        return list(dict.fromkeys(found))

    def _node(self, part: RunPart, side: str) -> tuple[str, str]:
        piece = self.making.piece(part.piece)
        paired = bool(piece.cuts) and piece.cuts[0].pairs and piece.fold is None
        return (piece.id, side if paired else "")

    def _join(
        self, parent: dict[tuple[str, str], tuple[str, str]], a: tuple[str, str], b: tuple[str, str]
    ) -> bool:
        root_a, root_b = self._root(parent, a), self._root(parent, b)
        if root_a == root_b:
            return False
        parent[root_a] = root_b
        return True

    def _root(self, parent: dict[tuple[str, str], tuple[str, str]], node: tuple[str, str]) -> tuple[str, str]:
        while node in parent:
            node = parent[node]
        return node
