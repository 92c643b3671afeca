"""A small garment through the actions: a tunic's front and back, each half on the fold, traced by hand.

The back's side is 4 mm longer than the front's on purpose, so that walking finds it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from eke.actions import patterns, projects
from eke.actions.room import Room
from eke.capture.found import FoundCloth, FoundMark, FoundPiece
from eke.capture.trace import Trace, TracedCloth, TracedPiece
from eke.geometry import Cubic, Line, Path

PROJECT, TUNIC = "Summer", "Tunic"
EDGES = ("hem", "side", "armhole", "shoulder", "neck", "centre")
KINDS = {"hem": "hem", "centre": "fold", "neck": "opening"}
SIDE_GAP_MM = 4.0

Chain = Sequence[Sequence[tuple[float, float]]]

FRONT: Chain = (
    ((0, 0), (200, 0)),
    ((200, 0), (180, 350)),
    ((180, 350), (140, 370), (140, 430), (150, 480)),
    ((150, 480), (70, 500)),
    ((70, 500), (65, 450), (40, 430), (0, 430)),
    ((0, 430), (0, 0)),
)
BACK: Chain = (
    ((0, 0), (200, -SIDE_GAP_MM)),
    ((200, -SIDE_GAP_MM), (180, 350)),
    ((180, 350), (145, 370), (145, 430), (150, 480)),
    ((150, 480), (70, 500)),
    ((70, 500), (60, 485), (40, 480), (0, 480)),
    ((0, 480), (0, 0)),
)


def outline(chain: Chain) -> FoundPiece:
    """Return an outline as a photograph would give it."""
    segments = tuple(("line" if len(p) == 2 else "cubic", np.array(p, dtype=np.float64)) for p in chain)
    path = Path(tuple(Line(*p) if len(p) == 2 else Cubic(*p) for p in chain))  # type: ignore[arg-type]
    corners = np.array([p[0] for p in chain], dtype=np.float64)
    grain = FoundMark("grain", np.array([(60.0, 50.0), (60.0, 250.0)]))
    return FoundPiece(path.flatten()[:-1], segments, corners, (grain,), 0.2)  # type: ignore[arg-type]


def traced(*chains: Chain) -> Trace:
    """Return a trace with these outlines, named "1", "2" and so on."""
    pieces = tuple(TracedPiece(str(n), outline(c), 0.5) for n, c in enumerate(chains, start=1))
    return Trace("a4", 0.15, pieces, (), (), None)  # type: ignore[arg-type]


def traced_cloth(width_mm: float = 900.0, length_mm: float = 700.0) -> Trace:
    """Return a trace with a cloth that has a hole and a stain."""
    corners = np.array([(0, 0), (width_mm, 0), (width_mm, length_mm), (0, length_mm)], dtype=np.float64)
    hole = np.array([(400, 300), (440, 300), (440, 340), (400, 340)], dtype=np.float64)
    stain = np.array([(700, 500), (740, 500), (720, 540)], dtype=np.float64)
    cloth = FoundCloth(corners, (hole,), (stain,), 91.0, (24.0, None), (200.0, 180.0, 160.0), 1.0)
    return Trace("a4", 0.2, (), (TracedCloth("1", cloth, 2.0),), (), None)  # type: ignore[arg-type]


def take_tunic(room: Room, garment: str = TUNIC, names: Sequence[str] = ("front", "back")) -> None:
    """Take front and back into a garment and say what their edges are."""
    found = traced(FRONT, BACK)
    for which, name in enumerate(names, start=1):
        patterns.add_piece(room, garment, found, patterns.NewPiece(name, str(which), id=name))
        edges = room.garment(garment).pattern.piece(name).edges
        for edge, called in zip(edges, EDGES, strict=True):
            said: dict[str, Any] = {"edge": edge.id, "name": called, "kind": KINDS.get(called, "seam")}
            patterns.change(room, garment, "edge.set", said)


def sew_tunic(room: Room, garment: str = TUNIC) -> None:
    """Say that sides and shoulders are sewn together."""
    pattern = room.garment(garment).pattern
    for name in ("side", "shoulder"):
        a, b = (patterns.find_edge(pattern, f"{piece}.{name}").id for piece in ("front", "back"))
        patterns.say_seam(room, garment, name, [a], [b])


def start_tunic(room: Room, *, budget: str | None = "12") -> None:
    """Begin a project with a tunic in it, taken and sewn."""
    projects.start_project(room, PROJECT, budget=budget)
    projects.enter_garment(room, PROJECT, TUNIC, {"wearer_age_years": 9})
    take_tunic(room)
    sew_tunic(room)
