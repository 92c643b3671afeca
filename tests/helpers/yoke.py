"""A yoke that is drawn whole, by hand: its lower right corner lies 6 mm too far out; its hem and its neck cross the middle."""

from __future__ import annotations

from eke.actions import patterns
from eke.actions.room import Room
from helpers import tunic

OUT_MM = 6.0
EDGES = ("hem", "right", "neck", "left")
YOKE: tunic.Chain = (
    ((-150, 0), (150 + OUT_MM, 0)),
    ((150 + OUT_MM, 0), (120, 130)),
    ((120, 130), (60, 70), (-60, 70), (-120, 130)),
    ((-120, 130), (-150, 0)),
)


def take_yoke(room: Room, garment: str = tunic.TUNIC) -> None:
    """Take the yoke into a garment, its edges named; its grain runs up through the middle of the paper."""
    patterns.change(room, garment, "trace.add", {**tunic.trace_params(YOKE, "yoke"), "marks": []})
    for edge, name in zip(room.garment(garment).pattern.piece("yoke").edges, EDGES, strict=True):
        patterns.change(room, garment, "edge.set", {"edge": edge.id, "name": name, "kind": "opening"})
    patterns.change(room, garment, "grain.set", {"piece": "yoke"})
