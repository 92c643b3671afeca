"""Monte-Carlo over rendered cloths: what of a cloth is found, and whether what is stated about it is true.

usage: python bench/capture/cloths.py [--seeds 0:24] [--width 2016] [--json FILE] [--again FILE] [--pictures FOLDER]

Every scene comes from a seed and the demo's renderer; the reference beside the cloth is A4, Letter, one own sheet or
two own sheets, in turn (``--kinds`` takes others), of exact size and flat: ``bench/capture/scenes.py`` says what a
sheet's own tolerance adds. A simulated maker looks at the outline: while a region wider than ``SEEN_MM`` is wrong, the widest
is touched as cloth or as floor, at most six times. The last outline counts, whatever
it is. Printed for each scene and in a table:

- refused, with the sentence;
- p95 of the outline against the true one after the best rigid move, and after the best similarity, which takes the
  error of the reference's own size out, so that finding and scaling are told apart;
- p95 as it lies, against the true outline as the solved camera sees it: what finding alone is off by;
- touches that were needed, and that p95 without any;
- holes found of those there, and found that are none; share of stains that a proposed flaw lies on;
- thread directions within half a degree (of the nearer of both), of those told, and how many scenes have three pixels a
  thread;
- error of the repeat of stripes and checks with the error of scale taken out, and repeats seen in plain cloths;
- whether the stated uncertainty of the outline and of lengths held; seconds of processor time for the cloth alone.

Not modelled: folds, cloth that does not lie flat, fringes, more than one cloth in a picture.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from scipy.spatial import cKDTree
from shapely.geometry import Point, Polygon
from shapely.ops import polylabel, unary_union

HERE = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(HERE), str(HERE / "src"), str(Path(__file__).parent)]

from demo.scenes.random_scenes import random_scene  # noqa: E402
from demo.scenes.scene import photograph  # noqa: E402
from demo.scenes.score import resample  # noqa: E402
from scenes import DIAGONAL_35MM, laid, said  # noqa: E402

from eke.capture.photo import Photo  # noqa: E402
from eke.capture.rectify import Rectified  # noqa: E402
from eke.capture.trace import find_in, look_at  # noqa: E402
from eke.capture.unroll import rectify  # noqa: E402
from eke.errors import EkeError  # noqa: E402

Array = np.ndarray
KINDS = ("a4", "letter", "sheet", "two_sheets")
MOST_TOUCHES = 6
SEEN_MM = 5.0  # a maker sees on a screen that a region this wide is wrong
PIXELS_A_THREAD = 3.0
MUST_MM, MUST_DEG, MUST_REPEAT = 1.5, 0.5, 0.2


def taken_of(seed: int, kind: str, width: int) -> tuple[Photo, dict[str, Any]]:
    """The photograph of a seed's cloth and the truth, whose places are in pixels of the upright picture too."""
    picture_px = (width, width * 3 // 4)
    base = random_scene(seed, "cloth", picture_px)
    assert base.scene.cloth is not None
    rng = np.random.default_rng([20261129, seed, KINDS.index(kind) if kind in KINDS else 9])
    size = base.scene.cloth.outline.max(axis=0)
    refs, told = laid(rng, kind, (float(size[0]), float(size[1])), cut=False)
    taken = photograph(replace(base.scene, references=tuple(refs)))
    pixels = np.rot90(taken.picture, -1) if taken.camera.upright == 6 else taken.picture
    focal = base.exif_focal and round(base.exif_focal) * float(np.hypot(*picture_px)) / DIAGONAL_35MM
    truth = taken.truth
    cloth = truth["cloth"]
    project = taken.camera.project_upright
    truth["px"] = {
        "outline": project(np.array(cloth["outline_mm"])),
        "holes": [project(np.array(h)) for h in cloth["holes_mm"]],
        "flaws": [project(np.array(f)) for f in cloth["flaws_mm"]],
    }
    truth["said"] = said(kind, told, truth)
    truth["floor"], truth["tilt"] = base.scene.floor, base.scene.pose.tilt_deg
    truth["wide"], truth["exif"] = base.scene.focal_35mm < 20, focal is not None
    return Photo(np.ascontiguousarray(pixels), focal_px_prior=focal), truth


def in_plane(flat: Rectified, truth: dict[str, Any]) -> dict[str, Any]:
    """The truth as the solved camera sees it: the error of scale and tilt is in it, the cloth's is not."""
    to_plane = flat.camera.to_plane
    return {
        k: [to_plane(p) for p in v] if isinstance(v, list) else to_plane(v) for k, v in truth["px"].items()
    }


def compared(found: Array, as_seen: Array, true: Array, *, scaled: bool) -> tuple[float, float, float]:
    """(95th percentile and largest distance both ways in mm, how much too large in %) after the best move.

    ``as_seen`` is the true outline, point by point, as the solved camera sees it: it tells where to begin.
    """
    points, line = resample(found, 1.0), resample(true)
    tree = cKDTree(line)
    move = _move(as_seen, true, scaled)
    for _ in range(12):
        at = points @ move[0].T + move[1]
        # both ways, so that what is missing counts as much as what is too much
        back = cKDTree(at).query(line)[1]
        move = _move(np.r_[points, points[back]], np.r_[line[tree.query(at)[1]], line], scaled)
    at = resample(found) @ move[0].T + move[1]
    away = np.r_[tree.query(at)[0], cKDTree(at).query(line)[0]]
    return (
        float(np.percentile(away, 95.0)),
        float(away.max()),
        100.0 * (1.0 / math.sqrt(np.linalg.det(move[0])) - 1.0),
    )


def _move(a: Array, b: Array, scaled: bool) -> tuple[Array, Array]:
    """Least-squares turn, with growth if ``scaled``, and shift that take points to points."""
    p, q = ((v - v.mean(axis=0)) @ [1.0, 1j] for v in (a, b))
    turn = np.vdot(p, q) / (np.vdot(p, p).real if scaled else abs(np.vdot(p, q)))
    matrix = np.array([[turn.real, -turn.imag], [turn.imag, turn.real]])
    return matrix, b.mean(axis=0) - matrix @ a.mean(axis=0)


def wrong_place(
    found: list[tuple[Array, list[Array]]], true: dict[str, Any]
) -> tuple[float, float, str] | None:
    """Where a maker would touch: the middle of the widest region that is called wrongly."""
    want = _clean(true["outline"]).difference(unary_union([_clean(h) for h in true["holes"]]))
    got = unary_union([_clean(o).difference(unary_union([_clean(h) for h in hs])) for o, hs in found])
    best: tuple[float, float, float, str] | None = None
    for region, sign in ((want.difference(got), "+"), (got.difference(want), "-")):
        for part in getattr(region, "geoms", [region]):
            if not isinstance(part, Polygon) or part.area < math.pi * (SEEN_MM / 2) ** 2:
                continue
            at = polylabel(part, 1.0)
            wide = 2.0 * float(part.exterior.distance(at))
            if wide >= SEEN_MM and (best is None or wide > best[0]):
                best = (wide, at.x, at.y, sign)
    return None if best is None else best[1:]


def _clean(ring: Array) -> Any:
    return Polygon(ring).buffer(0)


def run(seed: int, kind: str, width: int, pictures: Path | None = None) -> dict[str, Any]:
    """One scene: everything that is measured about it."""
    photo, truth = taken_of(seed, kind, width)
    return judged(photo, truth, {"seed": seed, "kind": kind}, pictures)


def judged(photo: Photo, truth: dict[str, Any], row: dict[str, Any], pictures: Path | None) -> dict[str, Any]:
    """Find the cloth with as many touches as a maker needs, and compare."""
    cloth = truth["cloth"]
    row |= {k: truth[k] for k in ("floor", "tilt", "wide", "exif")} | {"pattern": cloth["pattern"]}
    began = time.process_time()
    try:
        seen = look_at(photo, references=truth["said"], cloth=True)
        flat = rectify(photo, seen)
    except EkeError as no:
        return row | {"said": no.message}
    row["seconds_before"] = time.process_time() - began
    return found_in(flat, seen, truth, row, pictures)


def found_in(
    flat: Rectified, seen: Any, truth: dict[str, Any], row: dict[str, Any], pictures: Path | None
) -> dict[str, Any]:
    """The cloth in a straightened picture."""
    true = in_plane(flat, truth)
    touches: list[Any] = []
    said_at: list[str] = []
    while True:
        began = time.process_time()
        try:
            got = find_in(flat, seen, cloth=True, touches=touches)
        except EkeError as no:
            got = None
            said_at.append(no.message)
        row.setdefault("seconds", time.process_time() - began)
        found = [] if got is None else [(c.found.outline_mm, list(c.found.holes_mm)) for c in got.cloths]
        if not touches:
            row["untouched"] = None if got is None else _p95(found[0][0], true["outline"])
        if len(touches) >= MOST_TOUCHES:
            break
        at = wrong_place(found, true) if found else (*_inmost(true), "+")
        if at is None:
            break
        touches.append(at)
    row["touches"] = len(touches)
    if said_at:
        row["refused_at"] = said_at
    if pictures is not None:
        _draw(flat, true, found, touches, pictures / f"{row['seed']:03}.png")
    if got is None:
        return row | {"said": said_at[-1]}
    one = got.cloths[0]
    outline = one.found.outline_mm
    scene_mm = np.array(truth["cloth"]["outline_mm"])
    rigid, largest, _ = compared(outline, true["outline"], scene_mm, scaled=False)
    similar, _, scale = compared(outline, true["outline"], scene_mm, scaled=True)
    row |= {
        "cloths": len(found), "p95": rigid, "max": largest, "scale": scale, "similar": similar,
        "edge": _p95(outline, true["outline"]), "stated": one.uncertainty_mm, "percent": got.uncertainty_percent,
        "warnings": list(got.warnings),
    }  # fmt: skip
    return row | _holes(one.found, true) | _threads(flat, one.found, true, truth["cloth"])


def _p95(found: Array, true: Array) -> float:
    """As it lies: the truth seen by the same camera."""
    a, b = resample(found), resample(true)
    return float(np.percentile(np.r_[cKDTree(b).query(a)[0], cKDTree(a).query(b)[0]], 95.0))


def _inmost(true: dict[str, Any]) -> tuple[float, float]:
    at = polylabel(_clean(true["outline"]), 5.0)
    return at.x, at.y


def _holes(found: Any, true: dict[str, Any]) -> dict[str, Any]:
    left = [Polygon(h).buffer(0) for h in found.holes_mm]
    hit = 0
    for hole in true["holes"]:
        own = [h for h in left if h.intersects(Point(*_middle(hole)))]
        hit += bool(own)
        left = [h for h in left if h not in own]
    flaws = unary_union([Polygon(f).buffer(0) for f in found.flaws_mm])
    stained = sum(flaws.intersects(Point(*_middle(f))) for f in true["flaws"])
    return {
        "holes": len(true["holes"]), "holes_found": hit, "holes_extra": len(left),
        "stains": len(true["flaws"]), "stains_found": stained, "flaws": len(found.flaws_mm),
    }  # fmt: skip


def _middle(ring: Array) -> Array:
    return np.asarray(ring.mean(axis=0))


def _threads(flat: Rectified, found: Any, true: dict[str, Any], cloth: dict[str, Any]) -> dict[str, Any]:
    # the affine map that the solved camera makes of the scene: errors of scale and tilt are in it
    scene_mm = np.array(cloth["outline_mm"])
    turn = np.linalg.lstsq(np.c_[scene_mm, np.ones(len(scene_mm))], true["outline"], rcond=None)[0][:2].T
    angle = math.radians(cloth["warp_deg"])
    along = turn @ [math.cos(angle), math.sin(angle)]
    across = turn @ [-math.sin(angle), math.cos(angle)]
    warp = math.degrees(math.atan2(along[1], along[0]))
    weft = math.degrees(math.atan2(across[1], across[0])) - 90.0
    grow = [float(np.hypot(*v)) for v in (along, across)]
    out: dict[str, Any] = {
        "px_a_thread": min(cloth["pitch_mm"]) / flat.mm_per_px,
        "grain": None,
        "repeat": [],
    }
    if found.grain_deg is not None:
        out["grain"] = min(abs((found.grain_deg - w + 45.0) % 90.0 - 45.0) for w in (warp, weft))
        turned = abs((found.grain_deg - warp + 90.0) % 180.0 - 90.0) > 45.0
        seen = list(found.repeat_mm)[::-1] if turned else list(found.repeat_mm)
        # stripes run along the warp: they repeat across it
        have = {"plain": (False, False), "stripes": (False, True), "checks": (True, True)}[cloth["pattern"]]
        for got, there, g in zip(seen, have, grow, strict=True):
            if there or got is not None:
                error = None if got is None or not there else 100.0 * (got / (g * cloth["repeat_mm"]) - 1.0)
                out["repeat"].append({"there": there, "got": got, "error": error})
    return out


def _draw(flat: Rectified, true: dict[str, Any], found: list[Any], touches: list[Any], file: Path) -> None:
    image = cv2.cvtColor(flat.image_rgb, cv2.COLOR_RGB2BGR)
    for ring, colour in [
        *((r, (0, 220, 0)) for r in (true["outline"], *true["holes"])),
        *((r, (0, 0, 255)) for o, hs in found for r in (o, *hs)),
    ]:
        cv2.polylines(image, [np.round(flat.mm_to_px(ring)).astype(np.int32)], True, colour, 3)
    for x, y, sign in touches:
        at = flat.mm_to_px(np.array([[x, y]]))[0]
        cv2.circle(image, (round(at[0]), round(at[1])), 14, (0, 0, 255) if sign == "+" else (255, 0, 0), 5)
    file.parent.mkdir(parents=True, exist_ok=True)
    cv2.imwrite(str(file), cv2.resize(image, None, fx=0.4, fy=0.4, interpolation=cv2.INTER_AREA))


def line(row: dict[str, Any]) -> str:
    """A scene in one line."""
    head = (
        f"{row['seed']:>4} {row['kind']:10} {row['floor']:9} {row['pattern']:7} {row['tilt']:>3.0f}°"
        f"{' wide' if row['wide'] else ''}{'' if row['exif'] else ' no EXIF'}"
    )
    if "said" in row:
        return f"{head:48} refused: {row['said']}"
    before = "refused" if row["untouched"] is None else f"{row['untouched']:.1f}"
    grain = "-" if row["grain"] is None else f"{row['grain']:.2f}"
    repeat = " ".join(
        ("lost" if r["there"] else "extra") if r["error"] is None else f"{r['error']:+.2f}"
        for r in row["repeat"]
    )
    return (
        f"{head:48} p95 {row['p95']:>6.2f} ({row['stated']:>5.2f}) similar {row['similar']:>6.2f} edge {row['edge']:>6.2f} scale "
        f"{row['scale']:+.2f} % ({row['percent']:.2f}) touches {row['touches']} (without {before}) holes "
        f"{row['holes_found']}/{row['holes']} +{row['holes_extra']} stains {row['stains_found']}/{row['stains']} "
        f"flaws {row['flaws']} grain {grain} at {row['px_a_thread']:.1f} px repeat {repeat or '-'} "
        f"{row['seconds']:.1f} s cpu"
    )


def table(rows: list[dict[str, Any]]) -> str:
    """All scenes together, and by reference."""
    head = (
        f"{'reference':12}{'scenes':>7}{'refused':>8}{'p95 mm med/90%/max':>22}{'similar med/90%/max':>22}{'edge med/90%/max':>22}"
        f"{f'≤ {MUST_MM} mm':>9}{'untouched':>10}{'touches':>8}{'holes':>12}{'grain':>14}{'repeat':>16}"
        f"{'stated held mm/%':>18}{'s cpu':>9}"
    )
    out = [head]
    for kind in [*dict.fromkeys(r["kind"] for r in rows), "all"]:
        own = [r for r in rows if kind in (r["kind"], "all")]
        done = [r for r in own if "said" not in r]
        text = f"{kind:12}{len(own):>7}{len(own) - len(done):>8}"
        if done:
            text += "".join(_three([r[k] for r in done]) for k in ("p95", "similar", "edge"))
            good = sum(r["similar"] <= MUST_MM for r in done)
            alone = sum(r["untouched"] is not None and r["untouched"] <= MUST_MM for r in done)
            text += f"{good:>5}/{len(own):<3}{alone:>6}/{len(own):<3}{np.mean([r['touches'] for r in done]):>8.1f}"
            there, found, extra = (sum(r[k] for r in done) for k in ("holes", "holes_found", "holes_extra"))
            text += f"{f'{found}/{there} +{extra}':>12}"
            fine = [r for r in done if r["px_a_thread"] >= PIXELS_A_THREAD]
            told = [r["grain"] for r in done if r["grain"] is not None]
            right = sum(g <= MUST_DEG for g in told)
            text += f"{f'{right}/{len(told)} of {len(fine)}':>14}"
            repeats = [p for r in done for p in r["repeat"]]
            close = sum(p["error"] is not None and abs(p["error"]) <= MUST_REPEAT for p in repeats)
            real = sum(p["there"] for p in repeats)
            text += f"{f'{close}/{real} +{len(repeats) - real}':>16}"
            held = np.mean([r["p95"] <= r["stated"] for r in done])
            scale = np.mean([abs(r["scale"]) <= r["percent"] for r in done])
            text += f"{f'{100 * held:.0f} / {100 * scale:.0f} %':>18}{np.median([r['seconds'] for r in done]):>9.1f}"
        out.append(text)
    return "\n".join(out)


def _three(values: list[float]) -> str:
    v = np.array(values)
    return f"{np.median(v):>9.2f}{np.percentile(v, 90):>6.2f}{v.max():>7.2f}"


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--seeds", default="0:24", help="from:to, the last left out")
    ask.add_argument("--kinds", default=",".join(KINDS), help="of reference; scenes take them in turn")
    ask.add_argument("--width", type=int, default=2016, help="of the picture in pixels")
    ask.add_argument("--json", type=Path, help="keep every row here, after each scene")
    ask.add_argument("--again", type=Path, help="print the table of such a file")
    ask.add_argument("--pictures", type=Path, help="draw the true outline green and the found one red, here")
    given = ask.parse_args()
    if given.again:
        print(table(json.loads(given.again.read_text(encoding="utf-8"))))
        return 0
    low, high = (int(v) for v in given.seeds.split(":"))
    kinds = given.kinds.split(",")
    rows: list[dict[str, Any]] = []
    for seed in range(low, high):
        rows.append(run(seed, kinds[seed % len(kinds)], given.width, given.pictures))
        print(line(rows[-1]), flush=True)
        if given.json:
            given.json.write_text(json.dumps(rows, default=float), encoding="utf-8")
    print(table(rows))
    return 0


if __name__ == "__main__":
    sys.exit(main())
