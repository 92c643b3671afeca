"""Scenes by seed, for benchmarks: other shapes, papers, pens, floors, lenses and light than the demo's own."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from demo.scenes.cloths import Cloth, blob, polygon, rectangle, round_outline
from demo.scenes.references import Reference, ReferenceKind, sheet_geometry
from demo.scenes.render import Light, Sensor
from demo.scenes.scene import Paper, Pose, Scene, phone_lens
from demo.scenes.shapes import box_turned, random_piece
from demo.scenes.strokes import Pen
from eke.capture.sheet import own_sheet

__all__ = ["RandomScene", "random_scene"]

HAND_PX_OF_4000 = 0.8
"""A hand that turns the phone by one degree a second moves the picture by so much while a sensor is read in 15 ms (from
memory; 3000 px a radian)."""

Rng = np.random.Generator
Size = tuple[int, int]


@dataclass(frozen=True, slots=True, eq=False)
class RandomScene:
    """A scene, and what a maker would tell about its picture."""

    scene: Scene
    told: dict[str, Any]
    exif_focal: float | None


def random_scene(
    seed: int,
    shows: Literal["tracing", "cloth"] | None = None,
    picture_px: Size = (4032, 3024),
    easy: bool = False,
) -> RandomScene:
    """Return the scene of a seed.

    Parameters
    ----------
    shows
        A tracing or a cloth; by default three tracings to one cloth.
    picture_px
        Size of the sensor's raster; smaller pictures render faster.
    easy
        Tilt below 15 degrees, no wide lens, EXIF present.
    """
    rng = np.random.default_rng([20260314, seed])
    what = shows or ("cloth" if rng.random() < 0.25 else "tracing")
    wide = not easy and rng.random() < 0.12
    hand = np.random.default_rng([20260315, seed]).normal(0.0, HAND_PX_OF_4000, 2) * picture_px[0] / 4000.0
    focal = float(rng.choice([13, 15]) if wide else rng.choice([23, 24, 25, 26, 27, 28]))
    lens = replace(
        phone_lens(rng, *picture_px, focal, 2.0 if wide else 1.0), drift_px=(float(hand[0]), float(hand[1]))
    )
    if wide:  # software in the phone has already straightened most of a wide lens
        lens = replace(lens, k1=lens.k1 * 0.35, k2=lens.k2 * 0.12, k3=lens.k3 * 0.03)
    pose = Pose(
        tilt_deg=float(rng.uniform(2, 14) if easy else rng.triangular(0, 10, 35)),
        azimuth_deg=float(rng.uniform(0, 360)),
        roll_deg=float(rng.normal(0, 3)),
        margin=float(rng.uniform(0.02, 0.08)),
        shift=(float(rng.normal(0, 0.012)), float(rng.normal(0, 0.012))),
    )
    light = Light(
        float(rng.uniform(0, 360)), float(rng.uniform(0.05, 0.4)),
        tuple(float(v) for v in 1 + rng.normal(0, 0.03, 3)),
        float(rng.uniform(0.45, 1.1)), (float(rng.uniform(0, 1)), float(rng.uniform(-0.2, 0.4))),
        float(rng.uniform(120, 400)), float(rng.uniform(0, 0.4)),
    )  # fmt: skip
    sensor = Sensor(
        float(rng.uniform(0.1, 0.35)), float(rng.uniform(0.5, 1.1)) * picture_px[0] / 4032,
        float(rng.uniform(0.003, 0.014)), float(rng.uniform(0.2, 0.7)), int(rng.integers(78, 93)),
    )  # fmt: skip
    floor = str(rng.choice(["oak", "dark wood", "tiles", "carpet", "lino"]))
    base = Scene(f"random-{seed:04d}", seed, lens, focal, pose, floor, (), light=light, sensor=sensor)  # type: ignore[arg-type]
    scene, told = _tracing(rng, base) if what == "tracing" else _cloth(rng, base)
    scene = replace(scene, pose=replace(pose, portrait=_held_upright(rng, scene)))
    exif = None if not easy and rng.random() < 0.15 else focal
    return RandomScene(scene, told, exif)


def _held_upright(rng: Rng, scene: Scene) -> bool:
    """Most people hold the phone as the things lie."""
    if scene.paper is not None:
        box = np.array([[0.0, 0.0], scene.paper.size_mm])
    else:
        assert scene.cloth is not None
        box = scene.cloth.outline
    pts = np.vstack([box, *(r.corners_mm for r in scene.references)])
    w, h = pts.max(axis=0) - pts.min(axis=0)
    return bool((h > w) ^ (rng.random() < 0.12))


def _tracing(rng: Rng, base: Scene) -> tuple[Scene, dict[str, Any]]:
    pieces, x, high = [], 35.0, 0.0
    for _ in range(int(rng.choice([1, 1, 2, 2, 3]))):
        p = random_piece(rng)
        turn = float(rng.normal(0, 2) + (90 if rng.random() < 0.15 else 0))
        lo, hi = box_turned(p, turn)
        pieces.append((p, (x - float(lo[0]), 35.0 - float(lo[1])), turn))
        x += float(hi[0] - lo[0]) + float(rng.uniform(25, 60))
        high = max(high, float(hi[1] - lo[1]))
    size = (x + float(rng.uniform(5, 60)), high + 70 + float(rng.uniform(0, 60)))
    kind = str(rng.choice(["white", "kraft", "newspaper", "poster", "taped", "squared"]))
    straight = bool(kind != "newspaper" and rng.random() < 0.8)
    pen = _pen(rng, kind)
    pins = pen.kind == "pins"
    refs, told_refs = _references(rng, size, card=pins or max(size) < 480)
    paper = Paper(
        kind, size, straight, (size[0] * float(rng.uniform(0.35, 0.65)),) if kind == "taped" else ()
    )  # type: ignore[arg-type]
    scene = replace(base, paper=paper, pieces=tuple(pieces), pen=pen, references=refs)
    return scene, {"shows": "tracing", "references": told_refs, "square_paper": straight}


def _pen(rng: Rng, paper: str) -> Pen:
    kinds = ["felt"] if paper == "newspaper" else ["ballpoint", "pencil", "felt", "ballpoint", "pins"]
    kind = str(rng.choice(kinds))
    if paper in {"kraft", "squared"} and kind == "pins":
        kind = "ballpoint"
    width = {"ballpoint": (0.45, 0.9), "pencil": (0.5, 0.9), "felt": (1.0, 2.6), "pins": (0.5, 0.5)}[kind]
    colours = {
        "pencil": [(76, 74, 76)],
        "felt": [(18, 18, 20), (150, 24, 34), (24, 40, 130)],
        "ballpoint": [(24, 28, 60), (26, 26, 28), (140, 30, 40)],
        "pins": [(26, 26, 28)],
    }[kind]
    return Pen(
        kind,  # type: ignore[arg-type]
        float(rng.uniform(*width)),
        colours[int(rng.integers(len(colours)))],
        float(rng.uniform(0.75, 0.97)),
        float(rng.uniform(0.12, 0.35)),
        int(rng.integers(0, 7)),
        float(rng.uniform(0, 3)),
    )


def _references(
    rng: Rng, size: tuple[float, float], card: bool
) -> tuple[tuple[Reference, ...], list[dict[str, Any]]]:
    """A reference beside what is photographed, sometimes a second sheet on another side."""
    kinds: list[ReferenceKind] = ["sheet", "sheet", "sheet", "a4", "a4", "letter", "ruler", "tape"]
    if card:
        kinds += ["card", "card"]
    kind = kinds[int(rng.integers(len(kinds)))]
    sides = list(rng.permutation(4))
    scale = float(rng.choice([1.0, 1.0, rng.uniform(0.994, 1.006), 0.97]))
    count = 2 if kind == "sheet" and rng.random() < 0.3 else 1
    refs, told = [], []
    for number in range(count):
        refs.append(_beside(rng, kind, size, int(sides[number]), number, scale))
        told.append(_told(refs[-1], number))
    return tuple(refs), told


def _told(ref: Reference, number: int) -> dict[str, Any]:
    if ref.kind == "sheet":
        line = own_sheet("a4", number).check_line
        assert line is not None
        return {
            "kind": "sheet",
            "number": number,
            "check_line_mm": round(line.nominal_mm * ref.print_scale, 1),
        }
    if ref.kind in {"ruler", "tape"}:
        height = 2.5 if ref.kind == "ruler" else 0.5
        return {"kind": "points", "distance_mm": abs(ref.ticks_mm[1] - ref.ticks_mm[0]), "height_mm": height}
    return {"kind": ref.kind}


def _beside(
    rng: Rng, kind: ReferenceKind, size: tuple[float, float], side: int, number: int, scale: float
) -> Reference:
    geometry = sheet_geometry(own_sheet("a4", number)) if kind == "sheet" else None
    ref = Reference(kind, (0, 0), 0.0, geometry, scale)
    w, h = ref.size_mm
    turn = (
        float(rng.normal(0, 6)) + (90.0 if (side in {0, 2}) == (w > h) else 0.0) + float(rng.choice([0, 180]))
    )
    corners = replace(ref, turn_deg=turn).corners_mm
    lo, hi = corners.min(axis=0), corners.max(axis=0)
    gap = float(rng.uniform(12, 45))
    along_x = float(rng.uniform(0.1, 0.9)) * max(1.0, size[0] - (hi - lo)[0])
    along_y = float(rng.uniform(0.1, 0.9)) * max(1.0, size[1] - (hi - lo)[1])
    at = [
        (size[0] + gap - lo[0], along_y - lo[1]),
        (along_x - lo[0], size[1] + gap - lo[1]),
        (-gap - hi[0], along_y - lo[1]),
        (along_x - lo[0], -gap - hi[1]),
    ][side]
    return replace(ref, at_mm=(float(at[0]), float(at[1])), turn_deg=turn)


def _cloth(rng: Rng, base: Scene) -> tuple[Scene, dict[str, Any]]:
    shape = str(rng.choice(["straight", "cut", "round"]))
    w, h = float(rng.uniform(450, 1100)), float(rng.uniform(450, 1100))
    corners = None
    if shape == "straight":
        outline, corners = rectangle(rng, w, h)
    elif shape == "cut":
        corners = np.array([
            [0, 0], [w, rng.uniform(-15, 15)], [w * rng.uniform(0.95, 1.0), h * rng.uniform(0.4, 0.7)],
            [w * rng.uniform(0.45, 0.75), h], [rng.uniform(-10, 10), h * rng.uniform(0.93, 1.0)],
        ])  # fmt: skip
        outline = polygon(rng, corners)
    else:
        w = h = float(rng.uniform(600, 1100))
        outline = round_outline(rng, w)
    own = rng.random() < 0.12  # a cloth on a floor of about its own colour
    floor_tone = {
        "oak": (186, 146, 101),
        "dark wood": (104, 70, 47),
        "tiles": (160, 152, 144),
        "carpet": (110, 102, 98),
        "lino": (124, 128, 108),
    }
    colour = floor_tone[base.floor] if own else tuple(int(v) for v in rng.integers(40, 236, 3))
    middle = np.array([w, h]) * 0.5

    def spot(reach: float) -> tuple[float, float]:
        p = middle + rng.uniform(-reach, reach, 2) * [w, h]
        return float(p[0]), float(p[1])

    pitch = float(rng.uniform(0.45, 1.3))
    cloth = Cloth(
        outline,
        colour,  # type: ignore[arg-type]
        float(rng.choice([0, 90]) + rng.normal(0, 3)) if shape != "round" else float(rng.uniform(0, 180)),
        (pitch, pitch * float(rng.uniform(0.95, 1.15))),
        float(rng.uniform(0.05, 0.12)),
        str(rng.choice(["plain", "plain", "stripes", "checks"])),  # type: ignore[arg-type]
        float(rng.uniform(12, 40)),
        tuple(int(v) for v in rng.integers(40, 240, 3)),  # type: ignore[arg-type]
        float(rng.choice([0.0, rng.uniform(8, 30)])),
        burns=tuple(
            blob(rng, spot(0.18), float(rng.uniform(16, 60))) for _ in range(int(rng.integers(0, 2)))
        ),
        stains=tuple(
            blob(rng, spot(0.2), float(rng.uniform(50, 150)), 0.2) for _ in range(int(rng.integers(0, 2)))
        ),
        creases=int(rng.integers(1, 6)),
    )
    refs, told = _references(rng, (w, h), card=False)
    scene = replace(base, cloth=cloth, cloth_corners=corners, references=refs)
    return scene, {"shows": "cloth", "references": told}
