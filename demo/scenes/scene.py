"""Scenes: what lies on the floor, from where it is photographed, and the truth about it.

:func:`photograph` turns a :class:`Scene` into a picture and a truth record. All lengths of the truth are in the
scene's own frame: millimetres, origin at the lower left corner of the paper (or cloth), x right, y **up**.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from demo.garments import DraftPiece
from demo.scenes.board import Board
from demo.scenes.camera import DIAGONAL_35MM, Camera, Lens, aim
from demo.scenes.cloths import Cloth, paint_cloth
from demo.scenes.floors import FLOOR_PX_PER_MM, FloorKind, paint_floor
from demo.scenes.papers import PaperKind, paint_paper, paper_outline
from demo.scenes.references import Reference, lay_reference
from demo.scenes.render import Light, Sensor, expose
from demo.scenes.strokes import Drawn, Pen, draw_piece

__all__ = ["Paper", "Photograph", "Pose", "Scene", "phone_lens", "photograph"]

TRUTH_FORMAT = "eke-scene-truth-1"
AROUND_MM = 45.0
"""Margin of the fine part of the floor: room for shadows."""
LARGEST_FLOOR_PX, LARGEST_BOARD_PX = 9000.0, 30000.0
"""OpenCV looks pictures up in at most 32767 pixels a side; a far floor may be coarser than that."""
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Paper:
    """The paper of a tracing; ``straight`` says that its edges are cut straight and square."""

    kind: PaperKind
    size_mm: tuple[float, float]
    straight: bool = True
    seams_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Pose:
    """From where the picture is taken."""

    tilt_deg: float = 12.0
    azimuth_deg: float = 0.0
    roll_deg: float = 0.0
    portrait: bool = False
    margin: float = 0.035
    shift: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Everything that a picture depends on."""

    name: str
    seed: int
    lens: Lens
    focal_35mm: float
    pose: Pose
    floor: FloorKind
    references: tuple[Reference, ...]
    paper: Paper | None = None
    pieces: tuple[tuple[DraftPiece, tuple[float, float], float], ...] = ()
    pen: Pen = field(default_factory=Pen)
    cloth: Cloth | None = None
    cloth_corners: Array | None = None
    light: Light = field(default_factory=Light)
    sensor: Sensor = field(default_factory=Sensor)


@dataclass(frozen=True, slots=True, eq=False)
class Photograph:
    """A rendered scene: the raster as stored, its camera, and the truth."""

    picture: NDArray[np.uint8]
    camera: Camera
    truth: dict[str, Any]
    drawn: tuple[Drawn, ...]


def phone_lens(
    rng: np.random.Generator, width_px: int, height_px: int, focal_35mm: float, strength: float = 1.0
) -> Lens:
    """Return a lens of about ``focal_35mm``: what EXIF says is rounded, and the axis is not quite central."""
    f = focal_35mm * np.hypot(width_px, height_px) / DIAGONAL_35MM * (1 + rng.uniform(-0.02, 0.02))
    return Lens(
        width_px,
        height_px,
        float(f),
        float(width_px / 2 - 0.5 + rng.normal(0, 0.004) * width_px),
        float(height_px / 2 - 0.5 + rng.normal(0, 0.004) * width_px),
        k1=float(strength * rng.uniform(-0.05, 0.06)),
        k2=float(strength * rng.uniform(-0.04, 0.04)),
        p1=float(strength * rng.normal(0, 0.0003)),
        p2=float(strength * rng.normal(0, 0.0003)),
        k3=float(strength * rng.uniform(-0.01, 0.01)),
    )


def photograph(scene: Scene, px_per_mm: float | None = None) -> Photograph:
    """Render a scene.

    Parameters
    ----------
    px_per_mm
        Resolution of what is painted on the floor; by default about 1.8 times what the camera can see.
    """
    rng = np.random.default_rng(scene.seed)
    outline, shows = _what_must_show(scene, rng)
    p = scene.pose
    camera = aim(
        scene.lens,
        shows,
        tilt_deg=p.tilt_deg,
        azimuth_deg=p.azimuth_deg,
        roll_deg=p.roll_deg,
        portrait=p.portrait,
        margin=p.margin,
        shift=p.shift,
    )
    k = px_per_mm or _resolution(camera, shows)
    far, board = _floor(rng, scene, camera, shows, k)
    drawn: list[Drawn] = []
    if scene.paper is not None:
        paint_paper(rng, board, scene.paper.kind, outline, scene.paper.straight, scene.paper.seams_mm)
        drawn = [draw_piece(rng, board, scene.pen, piece, at, turn) for piece, at, turn in scene.pieces]
    if scene.cloth is not None:
        paint_cloth(rng, board, scene.cloth)
    boards = [far, board]
    for ref in scene.references:
        boards += lay_reference(rng, ref, 12.0 if ref.kind != "sheet" else 10.0)
    picture = expose(rng, boards, camera, scene.light, scene.sensor)
    return Photograph(picture, camera, _truth(scene, camera, outline, drawn), tuple(drawn))


def _what_must_show(scene: Scene, rng: np.random.Generator) -> tuple[Array, Array]:
    """The paper's or cloth's outline, and the points that may not be cut off."""
    if scene.paper is not None:
        outline = paper_outline(rng, scene.paper.size_mm, scene.paper.straight)
    elif scene.cloth is not None:
        outline = scene.cloth.outline
    else:
        raise ValueError("a scene has a paper or a cloth")
    return outline, np.vstack([outline, *(r.corners_mm for r in scene.references)])


def _resolution(camera: Camera, shows: Array) -> float:
    middle = (shows.min(axis=0) + shows.max(axis=0)) / 2
    a, b = camera.project(np.array([middle, middle + np.array([10.0, 0])]))
    return float(np.clip(1.8 * np.hypot(*(b - a)) / 10, 3.5, 9.0))


def _floor(
    rng: np.random.Generator, scene: Scene, camera: Camera, shows: Array, k: float
) -> tuple[Board, Board]:
    """The floor as far as the camera sees, and the finer part of it that things are laid on."""
    w, h = scene.lens.width_px - 1, scene.lens.height_px - 1
    edge = np.array([[x, y] for x in np.linspace(0, w, 9) for y in np.linspace(0, h, 9)])
    seen = camera.seen(edge)
    lo, hi = seen.min(axis=0) - 8.0, seen.max(axis=0) + 8.0
    size = (float(hi[0] - lo[0]), float(hi[1] - lo[1]))
    coarse = min(FLOOR_PX_PER_MM, LARGEST_FLOOR_PX / max(size))
    far = Board(paint_floor(rng, scene.floor, size, coarse), coarse, (float(lo[0]), float(hi[1])))
    lo = np.maximum(shows.min(axis=0) - AROUND_MM, lo)
    hi = np.minimum(shows.max(axis=0) + AROUND_MM, hi)
    k = min(k, LARGEST_BOARD_PX / float((hi - lo).max()))
    across, down = (int(np.ceil(v * k)) for v in hi - lo)
    near = Board(
        np.empty((0, 0, 3), np.uint8),
        k,
        (float(lo[0]), float(hi[1])),
        alpha=np.full((down, across), 255, np.uint8),
    )
    x, y = far.to_px(np.array([near.corner_mm]))[0]
    M = np.array([[coarse / k, 0, x], [0, coarse / k, y]])
    near.rgb = cv2.warpAffine(
        far.rgb,
        M,
        (across, down),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return far, near


def _r(points: Any, digits: int = 2) -> Any:
    return np.round(np.asarray(points, dtype=float), digits).tolist()


def _truth(scene: Scene, camera: Camera, outline: Array, drawn: list[Drawn]) -> dict[str, Any]:
    lens = camera.lens
    upright = (lens.height_px, lens.width_px) if camera.upright == 6 else (lens.width_px, lens.height_px)
    truth: dict[str, Any] = {
        "format": TRUTH_FORMAT,
        "name": scene.name,
        "seed": scene.seed,
        "unit": "mm",
        "frame": "x right, y up, seen from above; origin at the lower left of the paper or cloth",
        "image": {
            "stored_px": [lens.width_px, lens.height_px],
            "upright_px": list(upright),
            "orientation": camera.upright,
            "focal_35mm": scene.focal_35mm,
        },
        "camera": {
            "f_px": lens.f_px,
            "centre_px": [lens.cx_px, lens.cy_px],
            "k1_k2_p1_p2_k3": lens.distortion.tolist(),
            "R": camera.R.tolist(),
            "t_mm": camera.t.tolist(),
            "tilt_deg": round(camera.tilt_deg, 3),
            "height_mm": round(float(camera.centre_mm[2]), 1),
        },
        "references": [
            {
                "kind": r.kind,
                "size_mm": list(r.size_mm),
                "corners_mm": _r(r.corners_mm, 3),
                "corners_upright_px": _r(camera.project_upright(_at_height(r)), 2),
                **({"print_scale": r.print_scale} if r.kind == "sheet" else {}),
                **(_ticks(r, camera) if r.kind in {"ruler", "tape"} else {}),
            }
            for r in scene.references
        ],
    }
    if scene.paper is not None:
        truth["paper"] = {
            "kind": scene.paper.kind,
            "straight": scene.paper.straight,
            "outline_mm": _r(outline if scene.paper.straight else outline[::4]),
        }
        truth["pieces"] = [_piece_truth(d, camera) for d in drawn]
    if scene.cloth is not None:
        truth["cloth"] = _cloth_truth(scene.cloth, scene.cloth_corners)
    return truth


def _at_height(r: Reference) -> Array:
    z = {"card": 0.76, "ruler": 2.5, "tape": 0.5}.get(r.kind, 0.0)
    return np.c_[r.corners_mm, np.full(4, z)]


def _ticks(r: Reference, camera: Camera) -> dict[str, Any]:
    z = {"ruler": 2.5, "tape": 0.5}[r.kind]
    ticks = np.c_[r.ticks, np.full(2, z)]
    return {
        "ticks_upright_px": _r(camera.project_upright(ticks), 2),
        "distance_mm": abs(r.ticks_mm[1] - r.ticks_mm[0]),
        "height_mm": z,
    }


def _piece_truth(d: Drawn, camera: Camera) -> dict[str, Any]:
    middle = d.outline.mean(axis=0)
    return {
        "id": d.piece_id,
        "name": d.name,
        "placed": {"at_mm": _r(d.placed[:2], 3), "turn_deg": d.placed[2]},
        "middle_upright_px": _r(camera.project_upright(middle[None])[0], 1),
        "drawn_mm": _r(d.outline),
        "designed_mm": _r(d.designed),
        "corners_mm": _r(d.corners),
        "notches": [{"at_mm": _r(p), "strokes": n} for p, n in d.notches],
        "grain_mm": _r(d.grain) if d.grain is not None else None,
        "lines_mm": [_r(line) for line in d.lines],
        "points_mm": [_r(p) for p in d.points],
        "pricks_mm": [_r(p) for p in d.pricks],
    }


def _cloth_truth(c: Cloth, corners: Array | None) -> dict[str, Any]:
    return {
        "name": c.name,
        "outline_mm": _r(c.outline),
        "corners_mm": _r(corners) if corners is not None else [],
        "holes_mm": [_r(b) for b in c.burns],
        "flaws_mm": [_r(s) for s in (*c.stains, *c.worn)],
        "warp_deg": c.warp_deg % 180,
        "pitch_mm": list(c.pitch_mm),
        "pattern": c.pattern,
        "repeat_mm": c.repeat_mm if c.pattern != "plain" else None,
        "colour": list(c.colour),
    }
