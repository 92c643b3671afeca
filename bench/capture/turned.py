"""The photographs with known truth as other cameras would have taken them: another tilt, lens and height.

usage: python bench/capture/turned.py [NAME …] [--seeds 0:4] [--folder FOLDER] [--keep FOLDER]

What lies on a floor is flat, so a picture of it taken from elsewhere is the given one, carried over by both cameras. For
each photograph and seed: a tilt of up to 35 degrees, any direction, focal length within 3 %, principal point within 15
pixels, other radial terms, other exposure and JPEG quality; one in five without EXIF. A card stands 0.76 mm above the
paper, so there the camera only turns by a few degrees in its place. What the photograph does not show is filled with a
blur of its floor. Printed per photograph, with the paper's edges and without: the errors of scale in all pictures, what
must be reached, and how often that was.

Not modelled: the grain gets a little softer where the new camera is nearer than the old one was.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(HERE / "src"), str(Path(__file__).parent)]

from photographs import MUST, WIDE, kind_of, score, shared, stated  # noqa: E402

from eke.capture.photo import Photo  # noqa: E402
from eke.capture.trace import trace, trace_json  # noqa: E402
from eke.errors import EkeError  # noqa: E402
from eke.formats.images import read_photo  # noqa: E402

Array = NDArray[np.float64]

MARGIN = 0.03  # of the picture's width, around what must be seen
NEAREST_MM, FARTHEST_MM, STEP_MM = 200.0, 4000.0, 8.0
NO_EXIF = 0.2
EXIF_OFF = 0.011
CARD_TURN_RAD = 0.07
BLEND_PX, FADE_PX = 120.0, 500.0
CODE = np.arange(256) / 255.0
TO_LINEAR = np.where(CODE <= 0.04045, CODE / 12.92, ((CODE + 0.055) / 1.055) ** 2.4).astype(np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A pinhole with two radial terms over the floor: ``camera = turn @ floor + move``, rows of the picture down."""

    focal_px: float
    centre_px: tuple[float, float]
    k1: float
    k2: float
    turn: Array
    move: Array

    def place_mm(self) -> Array:
        return np.asarray(-self.turn.T @ self.move)

    def project(self, points_mm: Array) -> tuple[Array, Array]:
        """(pixels (n, 2), depths (n,)) of floor points (n, 3)."""
        seen = points_mm @ self.turn.T + self.move
        ray = seen[:, :2] / seen[:, 2:]
        r2 = (ray**2).sum(axis=1, keepdims=True)
        return ray * (1 + self.k1 * r2 + self.k2 * r2 * r2) * self.focal_px + self.centre_px, seen[:, 2]

    def floor_mm(self, width: int, height: int) -> Array:
        """The floor point (height, width, 3) that each pixel sees."""
        x, y = np.meshgrid(np.arange(width, dtype=float), np.arange(height, dtype=float))
        dx, dy = (x - self.centre_px[0]) / self.focal_px, (y - self.centre_px[1]) / self.focal_px
        drawn = np.hypot(dx, dy)
        r = drawn.copy()
        for _ in range(15):
            slope = 1 + 3 * self.k1 * r**2 + 5 * self.k2 * r**4
            r -= (r * (1 + self.k1 * r**2 + self.k2 * r**4) - drawn) / slope
        share = r / np.maximum(drawn, 1e-12)
        ray = np.stack([dx * share, dy * share, np.ones_like(dx)], axis=-1) @ self.turn
        eye = self.place_mm()
        return np.asarray(eye + ray * (-eye[2] / ray[..., 2])[..., None])


def view_of_truth(truth: dict[str, Any]) -> View:
    """The camera that took the photograph, for the picture turned upright."""
    c, image = truth["camera"], truth["image"]
    turn, move, centre = np.array(c["R_world_to_cam"]), np.array(c["t"]), (c["cx"], c["cy"])
    if image["orientation"] == 6:
        quarter = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
        turn, move, centre = quarter @ turn, quarter @ move, (image["height"] - 1 - c["cy"], c["cx"])
    return View(c["f_px"], centre, c["k1"], c["k2"], turn, move)


def must_show(truth: dict[str, Any]) -> Array:
    """Floor points (n, 3) that a maker would have in the picture: references, and the paper or cloth."""
    things = [np.array(r.get("corners_frame_mm") or r["sheet_corners_frame_mm"]) for r in truth["references"]]
    if truth["kind"] == "cloth":
        things.append(np.array(truth["pieces"][0]["polyline_true"]))
    else:
        w, h = truth["sheet"]["size_mm"]
        things.append(np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]))
    flat = np.vstack(things)
    return np.column_stack([flat, np.zeros(len(flat))])


def other_view(rng: np.random.Generator, truth: dict[str, Any], old: View, size: tuple[int, int]) -> View:
    """Another camera that sees all that must be seen."""
    width, height = size
    shown = must_show(truth)
    middle = (shown.min(axis=0) + shown.max(axis=0)) / 2
    wide = truth["camera"]["lens"] == "wide"
    focal = old.focal_px * rng.uniform(0.97, 1.03)
    k1, k2 = (
        (rng.uniform(-0.06, 0.02), rng.uniform(-0.01, 0.01))
        if wide
        else (rng.uniform(-0.05, 0.06), rng.uniform(-0.04, 0.04))
    )
    centre = ((width - 1) / 2 + rng.uniform(-15, 15), (height - 1) / 2 + rng.uniform(-15, 15))
    stays = any("card" in r["type"] for r in truth["references"])
    if stays:
        axis = cv2.Rodrigues(np.array([*rng.normal(0, CARD_TURN_RAD, 2), 0.0]))[0] @ old.turn[2]
    else:
        tilt = np.radians(np.clip(rng.triangular(0, 14, 37), 2, 35))
        way = rng.uniform(0, 2 * np.pi)
        axis = np.array([np.sin(tilt) * np.cos(way), np.sin(tilt) * np.sin(way), np.cos(tilt)])
    right = old.turn[0] - axis * (old.turn[0] @ axis)
    right /= np.linalg.norm(right)
    down = np.cross(axis, right)
    roll = np.radians(rng.normal(0, 4))
    turn = np.array([
        np.cos(roll) * right + np.sin(roll) * down, np.cos(roll) * down - np.sin(roll) * right, axis,
    ])  # fmt: skip
    if stays:
        return View(focal, centre, k1, k2, turn, -turn @ old.place_mm())
    rim = MARGIN * width
    for far in np.arange(NEAREST_MM, FARTHEST_MM, STEP_MM):
        view = View(focal, centre, k1, k2, turn, -turn @ (middle - axis * far))
        px, depth = view.project(shown)
        if (depth > 30).all() and (px > rim).all() and (px < np.array([width, height]) - 1 - rim).all():
            return view
    raise ValueError("nobody can stand so far away")


def taken_by(rng: np.random.Generator, photo: Photo, old: View, new: View) -> Photo:
    """The photograph as the other camera would have taken it."""
    height, width = photo.pixels_rgb.shape[:2]
    at, _ = old.project(new.floor_mm(width, height).reshape(-1, 3))
    at = np.clip(np.nan_to_num(at), -3000, 9000).astype(np.float32).reshape(height, width, 2)
    light = cv2.LUT(photo.pixels_rgb, TO_LINEAR)
    seen = cv2.remap(light, at, None, cv2.INTER_LANCZOS4, borderMode=cv2.BORDER_REPLICATE)
    small = cv2.resize(light, (width // 16, height // 16), interpolation=cv2.INTER_AREA)
    soft = cv2.resize(cv2.GaussianBlur(small, (0, 0), 6), (width, height))
    blur = cv2.remap(soft, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    beyond = (
        np.maximum(-at, at - np.array([width - 1, height - 1], np.float32)).max(axis=2).clip(0)[..., None]
    )
    fade = np.clip((beyond - BLEND_PX) / FADE_PX, 0, 1)
    around = (1 - fade) * blur + fade * 0.6 * soft.reshape(-1, 3).mean(axis=0)
    share = np.clip(beyond / BLEND_PX, 0, 1)
    seen = np.clip(
        ((1 - share) * seen + share * around) * rng.uniform(0.6, 1.05) * (1 + rng.normal(0, 0.02, 3)), 0, 1
    )
    code = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * np.maximum(seen, 1e-9) ** (1 / 2.4) - 0.055)
    pixels = np.clip(code * 255 + 0.5 + rng.normal(0, 0.8, code.shape), 0, 255).astype(np.uint8)
    quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(82, 94))]
    stored = cv2.imdecode(cv2.imencode(".jpg", pixels[..., ::-1], quality)[1], cv2.IMREAD_COLOR)
    written = None if rng.random() < NO_EXIF else new.focal_px * (1 + rng.uniform(-EXIF_OFF, EXIF_OFF))
    return Photo(np.ascontiguousarray(stored[..., ::-1]), written, photo.focal_sigma)


def run(folder: Path, file: Path, seed: int, keep: Path | None) -> list[dict[str, Any]]:
    """One photograph by one other camera, with the paper's edges and without."""
    truth = json.loads(file.read_text(encoding="utf-8"))
    photo = read_photo(folder / truth["image"]["file"])
    rng = np.random.default_rng([20261129, truth["seed"], seed])
    old = view_of_truth(truth)
    new = other_view(rng, truth, old, (photo.width_px, photo.height_px))
    picture = taken_by(rng, photo, old, new)
    if keep:
        cv2.imwrite(str(keep / f"{file.stem.split('.')[0]}-{seed}.jpg"), picture.pixels_rgb[..., ::-1])
    kind, cloth = kind_of(file.name), truth["kind"] == "cloth"
    rows = []
    for square in (True, False) if truth["sheet"]["rectangular"] else (False,):
        must = tuple(m * (WIDE if "wide" in file.name else 1.0) for m in MUST[kind, square])
        row: dict[str, Any] = {
            "case": truth["case"],
            "way": kind + ("+paper" if square else ""),
            "must": must,
        }
        try:
            got = trace(picture, references=stated(kind, truth, folder), square_paper=square, cloth=cloth)
        except EkeError as no:
            rows.append(row | {"said": no.message})
            continue
        pieces = score(folder, trace_json(got), file)
        found = [p for p in pieces if not p.get("missing")]
        worst = [
            max((f(p) for p in found), default=np.inf)
            for f in (
                lambda p: abs(p["scale_error_pct"]), lambda p: p["dev_sym"]["p95"], lambda p: p["dev_sym"]["max"],
            )
        ]  # fmt: skip
        rows.append(row | {
            "worst": worst, "lost": len(pieces) - len(found), "warnings": list(got.warnings),
            "reached": len(found) == len(pieces) and all(w <= m for w, m in zip(worst, must, strict=True)),
            "inside": worst[0] <= got.uncertainty_percent
            and worst[1] <= max(f.uncertainty_mm for f in (got.cloths if cloth else got.pieces)),
        })  # fmt: skip
    return rows


def table(rows: list[dict[str, Any]]) -> str:
    """Per photograph and way; see the top of this file."""
    lines = [
        f"{'photograph':34}{'reference':18}{'reached':>9}{'refused':>8}{'must %':>8}  errors of scale in %"
    ]
    for case, way in dict.fromkeys((r["case"], r["way"]) for r in rows):
        own = [r for r in rows if (r["case"], r["way"]) == (case, way)]
        done = [r for r in own if "said" not in r]
        errors = " ".join(f"{r['worst'][0]:.2f}{' (lost a piece)' if r['lost'] else ''}" for r in done)
        reached = f"{sum(r['reached'] for r in done)} of {len(own)}"
        lines.append(
            f"{case[:33]:34}{way:18}{reached:>9}{len(own) - len(done):>8}{own[0]['must'][0]:>8.2f}  {errors}"
        )
    done = [r for r in rows if "said" not in r]
    lines.append(
        f"\n{sum(r['reached'] for r in done)} of {len(rows)} reach the numbers; refused {len(rows) - len(done)}; with a "
        f"warning {sum(bool(r['warnings']) for r in done)}; outside what is stated {sum(not r['inside'] for r in done)}, of "
        f"these without a warning {sum(not r['inside'] and not r['warnings'] for r in done)}"
    )
    return "\n".join(lines)


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("names", nargs="*")
    ask.add_argument("--seeds", default="0:4", help="from:to, the last left out")
    ask.add_argument("--folder", type=Path, default=shared() / "photos")
    ask.add_argument("--keep", type=Path, help="write the pictures into this folder")
    given = ask.parse_args()
    if not given.folder.exists():
        print(f"no photographs at {given.folder}", file=sys.stderr)
        return 2
    low, high = (int(v) for v in given.seeds.split(":"))
    rows: list[dict[str, Any]] = []
    for file in sorted(given.folder.glob("*.truth.json")):
        if given.names and not any(n in file.name for n in given.names):
            continue
        for seed in range(low, high):
            new = run(given.folder, file, seed, given.keep)
            rows += new
            for row in new:
                end = (
                    row.get("said")
                    or f"{row['worst'][0]:.3f} %{'' if row['reached'] else ' MISSED'} {row['warnings'] or ''}"
                )
                print(f"# {row['case']} {seed} {row['way']} {end}", file=sys.stderr, flush=True)
    print(table(rows))
    return 0


if __name__ == "__main__":
    sys.exit(main())
