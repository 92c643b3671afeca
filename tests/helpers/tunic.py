"""A small garment through the actions: a tunic's front and back, each half on the fold, traced by hand.

The back's side is 4 mm longer than the front's on purpose, so that walking finds it.
"""

from __future__ import annotations

import io
import zlib
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from PIL import Image

from eke.actions import found, patterns, photographs, projects
from eke.actions.room import Room
from eke.capture.found import FoundCloth, FoundMark, FoundPiece
from eke.capture.trace import Trace, TracedCloth, TracedPiece, trace_json
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


def traced(*chains: Chain) -> dict[str, Any]:
    """Return a found document with these outlines, named "1", "2" and so on; a pixel is a millimetre."""
    pieces = tuple(TracedPiece(str(n), outline(c), 0.5) for n, c in enumerate(chains, start=1))
    return _document(Trace("a4", 0.15, pieces, (), (), None))  # type: ignore[arg-type]


def traced_cloth(width_mm: float = 900.0, length_mm: float = 700.0) -> dict[str, Any]:
    """Return a found document with a cloth that has a hole and a stain."""
    corners = np.array([(0, 0), (width_mm, 0), (width_mm, length_mm), (0, length_mm)], dtype=np.float64)
    hole = np.array([(400, 300), (440, 300), (440, 340), (400, 340)], dtype=np.float64)
    stain = np.array([(700, 500), (740, 500), (720, 540)], dtype=np.float64)
    cloth = FoundCloth(corners, (hole,), (stain,), 91.0, (24.0, None), (200.0, 180.0, 160.0), 1.0)
    return _document(Trace("a4", 0.2, (), (TracedCloth("1", cloth, 2.0),), (), None))  # type: ignore[arg-type]


def _document(trace: Trace) -> dict[str, Any]:
    document = trace_json(trace)
    for kind in ("pieces", "cloths"):
        for number, row in enumerate(document[kind], start=1):
            row["name"] = str(number)
            row |= {
                f"{part}_px": row[part] for part in ("outline", "corners", "holes", "flaws") if part in row
            }
    return document | {"format": "eke-found-1", "mm_per_px": 1.0, "box_mm": [0, 0, 1000, 1000]}


def picture(seed: int = 0) -> bytes:
    """Return a small photograph of noise; each seed is another one."""
    pixels = np.random.default_rng(seed).integers(0, 255, (600, 800, 3), dtype=np.uint8)
    kept = io.BytesIO()
    Image.fromarray(pixels).save(kept, "JPEG")
    return kept.getvalue()


def photographed(
    room: Room, subject: str, shown: Mapping[str, Any], name: str = "p.jpg"
) -> photographs.Photograph:
    """Take in a photograph that shows what ``shown`` says, as if it had been traced."""
    taken = photographs.take_in_photograph(
        room, subject, picture(zlib.crc32(repr(shown).encode())), name, cloth=bool(shown["cloths"])
    )
    return found.keep_found(room, taken.id, shown, taken.said)


def trace_params(chain: Chain, name: str, **said: Any) -> dict[str, Any]:
    """Return the params of ``trace.add`` for one outline; its name is its id."""
    (row,) = traced(chain)["pieces"]
    tracing = {
        "photo": None,
        "reference": "a4",
        "scale_percent": 0.15,
        "uncertainty_mm": row["uncertainty_mm"],
    }
    seen = {k: row[k] for k in ("segments", "corners")}
    marks = [{"kind": m["kind"], "points": m["points"]} for m in row["marks"]]
    return {"piece": name, "name": name, **seen, "marks": marks, "tracing": tracing, **said}


def take_tunic(room: Room, garment: str = TUNIC, names: Sequence[str] = ("front", "back")) -> None:
    """Take front and back into a garment and say what their edges are."""
    for chain, name in zip((FRONT, BACK), names, strict=True):
        patterns.change(room, garment, "trace.add", trace_params(chain, name))
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
