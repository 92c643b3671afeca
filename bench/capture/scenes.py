"""Monte-Carlo over rendered scenes: what each kind of reference is worth, and whether what is stated is true.

usage: python bench/capture/scenes.py [--seeds 0:9] [--kinds a4,card,…] [--width 4032] [--cut] [--json FILE] [--again FILE]

Every scene comes from a seed and the demo's renderer, whose lens has terms that the solver does not model (k3,
a little rolling shutter) and whose noise, papers and light are its own, and is read from a JPEG file as phones write it,
with colour for every fourth pixel. References have their exact size and check lines are read to a tenth
of a millimetre, as the numbers to reach are meant. With ``--cut`` sheets of A4 and Letter are cut as ISO 216 allows (sides
off by up to 2 mm, here normal with 1 mm, cut off at 2) and lie up to 1.5 mm above the paper, as sheets do that are not
quite flat, and check lines are read to half a millimetre: what real things do to the scale, which the stated
uncertainty must cover. One scene is drawn for each kind and seed. Of each piece: error of scale and the 95th
percentile of its outline against the drawn line, with the best rigid move. Printed per kind, with and without the
paper's straight edges: scenes refused, scale error median / 95th percentile / largest, 95th percentile of the outlines'
errors, coverage (share of pieces whose error lies within what is stated for them; the aim is 90 %), and what must be
reached. Below: scenes solved with no touch, with a touch in each piece that was not found, refused, and wrong (an
outline or the scale outside what is stated, and no warning); corners and notches found.

Not modelled: paper that is buckled, local tone mapping. ``--again`` prints the table of a file
written by ``--json``, without computing.
"""

from __future__ import annotations

import argparse
import io
import json
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

HERE = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(HERE), str(HERE / "src"), str(Path(__file__).parent)]

import demo.scenes.scene as scenes  # noqa: E402
from demo.scenes.random_scenes import _beside, random_scene  # noqa: E402
from demo.scenes.references import Reference as Laid  # noqa: E402
from demo.scenes.references import lay_reference  # noqa: E402
from demo.scenes.render import to_jpeg  # noqa: E402
from demo.scenes.score import score_outline  # noqa: E402
from photographs import MUST  # noqa: E402

from eke.capture.photo import Photo  # noqa: E402
from eke.capture.references import Reference  # noqa: E402
from eke.capture.trace import trace  # noqa: E402
from eke.errors import EkeError  # noqa: E402

KINDS = ("two_sheets", "sheet", "a4", "letter", "card", "ruler", "tape")
TICKS_MUST = (0.3, 1.0, 2.0)  # tape or ruler with rectangular paper
CUT_SIGMA_MM, CUT_MOST_MM = 1.0, 2.0
LIFT_MM = 1.5
DIAGONAL_35MM = 43.2666
CORNER_NEAR_MM = 4.0
ELSEWHERE_MM = 20.0  # an outline that is off by so much, or lies so far away, is not of this piece
DOUBLE_NOTCH_MM = 1.5  # half the distance between the strokes of a double notch as the scenes draw it


@dataclass(frozen=True, slots=True, eq=False)
class CutSheet(Laid):
    """A sheet whose sides are off by ``off_mm``, and that lies ``lift_mm`` above the paper."""

    off_mm: tuple[float, float] = (0.0, 0.0)
    lift_mm: float = 0.0

    @property
    def size_mm(self) -> tuple[float, float]:
        w, h = Laid(self.kind, (0.0, 0.0)).size_mm
        return w + self.off_mm[0], h + self.off_mm[1]


def lay(rng: np.random.Generator, ref: Laid, k: float) -> list[Any]:
    """What :func:`demo.scenes.references.lay_reference` lays, lifted where it does not lie flat."""
    boards = lay_reference(rng, ref, k)
    if isinstance(ref, CutSheet):
        boards[-1].z_mm += ref.lift_mm
    return boards


def laid(
    rng: np.random.Generator, kind: str, size: tuple[float, float], cut: bool
) -> tuple[list[Laid], list[dict]]:
    """References of a kind beside the paper, and what the maker says of each."""
    refs, told = [], []
    sides = list(rng.permutation(4))
    scale = float(rng.choice([1.0, rng.uniform(0.994, 1.006), 0.97]))
    for number in range(2 if kind == "two_sheets" else 1):
        one = "sheet" if kind == "two_sheets" else kind
        ref = _beside(rng, one, size, int(sides[number]), number, scale)  # type: ignore[arg-type]
        if cut and kind in ("a4", "letter"):
            off = np.clip(rng.normal(0.0, CUT_SIGMA_MM, 2), -CUT_MOST_MM, CUT_MOST_MM)
            ref = CutSheet(
                ref.kind, ref.at_mm, ref.turn_deg, None, 1.0, off_mm=(float(off[0]), float(off[1])),
                lift_mm=float(rng.uniform(0.0, LIFT_MM)),
            )  # fmt: skip
        refs.append(ref)
        step = 0.5 if cut else 0.1
        told.append({"check_line_mm": round(240.0 * scale / step) * step})
    return refs, told


def said(kind: str, told: list[dict], truth: dict[str, Any]) -> list[Reference]:
    """What a maker says of the picture."""
    if kind in ("two_sheets", "sheet"):
        return [Reference("sheet", check_line_mm=t["check_line_mm"]) for t in told]
    if kind in ("ruler", "tape"):
        entry = truth["references"][0]
        a, b = entry["ticks_upright_px"]
        return [
            Reference(
                "points", from_px=tuple(a), to_px=tuple(b), distance_mm=entry["distance_mm"],
                height_mm=entry["height_mm"],
            )
        ]  # fmt: skip
    return [Reference(kind)]  # type: ignore[arg-type]


def run(kind: str, seed: int, width: int, cut: bool) -> list[dict[str, Any]]:
    """One scene, traced with and without the paper's edges: a row for each way."""
    picture_px = (width, width * 3 // 4)
    base = random_scene(seed, "tracing", picture_px)
    rng = np.random.default_rng([20261128, seed, KINDS.index(kind)])
    paper = replace(base.scene.paper, straight=True)
    pieces = base.scene.pieces[:1] if kind == "card" else base.scene.pieces
    refs, told = laid(rng, kind, paper.size_mm, cut)
    scene = replace(base.scene, paper=paper, pieces=pieces, references=tuple(refs))
    usual, scenes.lay_reference = scenes.lay_reference, lay
    try:
        taken = scenes.photograph(scene)
    finally:
        scenes.lay_reference = usual
    # phones keep pictures as JPEG, with colour for every fourth pixel
    file = io.BytesIO(to_jpeg(taken.picture, None, scene.sensor.quality))
    picture = np.asarray(Image.open(file))
    pixels = np.rot90(picture, -1) if taken.camera.upright == 6 else picture
    focal = base.exif_focal and round(base.exif_focal) * float(np.hypot(*picture_px)) / DIAGONAL_35MM
    photo = Photo(np.ascontiguousarray(pixels), focal_px_prior=focal)
    rows = []
    for square in (True, False):
        if not square and kind in ("ruler", "tape"):
            continue
        row: dict[str, Any] = {
            "kind": kind, "square": square, "seed": seed, "paper": paper.kind, "tilt": scene.pose.tilt_deg,
            "wide": scene.focal_35mm < 20, "exif": focal is not None, "pieces": [],
        }  # fmt: skip
        began = time.process_time()
        row |= traced(photo, said(kind, told, taken.truth), square, taken.truth["pieces"], ())
        lost = "said" not in row and any("lost" in p for p in row["pieces"])
        if lost or row.get("reason") == "nothing found":
            touches = [(*piece["middle_upright_px"], "+") for piece in taken.truth["pieces"]]
            again = traced(photo, said(kind, told, taken.truth), square, taken.truth["pieces"], touches)
            if "said" not in again:
                row |= again | {"touched": True}
                row.pop("said", None)
        row["cpu"] = time.process_time() - began
        rows.append(row)
    return rows


def traced(
    photo: Photo, references: list[Reference], square: bool, pieces: list[dict[str, Any]], touches: Any
) -> dict[str, Any]:
    """What a tracing yields: the sentence of a refusal, or its pieces judged."""
    try:
        got = trace(photo, references=references, square_paper=square, touches=touches)
    except EkeError as no:
        return {"said": no.message, "reason": no.data.get("reason")}
    return {
        "warnings": list(got.warnings),
        "percent": got.uncertainty_percent,
        "pieces": [judged(got, piece) for piece in pieces],
        "too_many": max(0, len(got.pieces) - len(pieces)) if not touches else 0,
    }


def judged(got: Any, piece: dict[str, Any]) -> dict[str, Any]:
    """The found outline nearest to where a true piece lies in the picture, against the drawn line."""
    camera = got.rectified.camera
    at = camera.to_plane(np.array([piece["middle_upright_px"]]))[0]
    found = min(got.pieces, key=lambda p: float(np.hypot(*(p.found.outline_mm.mean(axis=0) - at))))
    score = score_outline(found.found.outline_mm, piece["drawn_mm"])
    around = found.found.outline_mm.astype(np.float32)
    # where two pieces are alike, the other one is no answer to this
    elsewhere = cv2.pointPolygonTest(around, (float(at[0]), float(at[1])), True) < -ELSEWHERE_MM
    if score.p95_mm > ELSEWHERE_MM or elsewhere:
        return {"name": piece["name"], "lost": True}
    corners = gaps(score.place(found.found.corners_mm), np.reshape(piece["corners_mm"], (-1, 2)))
    strokes = [score.place(m.points_mm) for m in found.found.marks if m.kind == "notch"]
    # a double notch is two strokes on both sides of its place
    notches = [
        min((float(np.hypot(*(s - n["at_mm"]).T).min()) for s in strokes), default=99.0)
        - (DOUBLE_NOTCH_MM if n["strokes"] == 2 else 0.0)
        for n in piece["notches"]
    ]
    return {
        "name": piece["name"], "scale": score.scale_percent, "p95": score.p95_mm, "max": score.max_mm,
        "stated": found.uncertainty_mm, "corners": corners, "notches": [n < 1.0 for n in notches],
    }  # fmt: skip


def gaps(found: Any, true: Any) -> dict[str, Any]:
    """Corners: how many there are, found within 4 mm, found where there is none, and how far the found ones lie off."""
    apart = np.hypot(*(found[:, None] - true[None]).transpose(2, 0, 1)).reshape(len(found), len(true))
    near = apart.min(axis=0, initial=99.0)
    hit = near[near < CORNER_NEAR_MM]
    extra = int(np.sum(apart.min(axis=1, initial=99.0) >= CORNER_NEAR_MM))
    return {"true": len(true), "found": len(hit), "extra": extra, "off": [float(v) for v in hit]}


def table(rows: list[dict[str, Any]]) -> str:
    """Per kind of reference; see the top of this file."""
    lines = [
        f"{'reference':20}{'scenes':>7}{'refused':>8}{'lost':>5}{'scale % med/p95/max':>22}{'must':>6}"
        f"{'outline p95 mm':>15}{'must':>6}{'stated % / mm':>15}{'covers scale / outline':>24}"
    ]
    for kind in KINDS:
        for square in (True, False):
            own = [r for r in rows if r["kind"] == kind and r["square"] == square]
            if not own:
                continue
            done = [r for r in own if "said" not in r]
            pieces = [(r, p) for r in done for p in r["pieces"] if "lost" not in p]
            lost = sum(1 for r in done for p in r["pieces"] if "lost" in p)
            must = TICKS_MUST if kind in ("ruler", "tape") else MUST[kind, square]
            name = kind.replace("_", " ") + (" + paper" if square else "")
            line = f"{name:20}{len(own):>7}{100 * (1 - len(done) / len(own)):>7.0f}%{lost:>5}"
            if pieces:
                scale = np.abs([p["scale"] for _, p in pieces])
                p95 = np.array([p["p95"] for _, p in pieces])
                held = np.mean([abs(p["scale"]) <= r["percent"] for r, p in pieces])
                inside = np.mean([p["p95"] <= p["stated"] for _, p in pieces])
                line += (
                    f"{np.median(scale):>9.2f}{np.percentile(scale, 95):>6.2f}{scale.max():>7.2f}{must[0]:>6.2f}"
                    f"{np.percentile(p95, 95):>15.2f}{must[1]:>6.2f}"
                    f"{np.median([r['percent'] for r in done]):>8.2f} /{np.median([p['stated'] for _, p in pieces]):>5.2f}"
                    f"{100 * held:>14.0f}% /{100 * inside:>5.0f}%"
                )
            lines.append(line)
    return "\n".join([*lines, "", *summary(rows)])


def summary(rows: list[dict[str, Any]]) -> list[str]:
    """How the scenes ended, and what was read of corners and notches."""
    done = [r for r in rows if "said" not in r]
    lost = [r for r in done if any("lost" in p for p in r["pieces"])]
    touched = [r for r in done if r.get("touched") and r not in lost]
    pieces = [(r, p) for r in done for p in r["pieces"] if "lost" not in p]
    wrong = [
        r
        for r in done
        if not r["warnings"]
        and any(
            "lost" not in p and (p["p95"] > p["stated"] or abs(p["scale"]) > r["percent"])
            for p in r["pieces"]
        )
    ]
    warned = [r for r in done if r["warnings"]]
    corners = [p["corners"] for _, p in pieces]
    true = max(1, sum(c["true"] for c in corners))
    off = [v for c in corners for v in c["off"]]
    notches = [n for _, p in pieces for n in p["notches"]]
    held = np.mean([abs(p["scale"]) <= r["percent"] and p["p95"] <= p["stated"] for r, p in pieces])
    return [
        f"{len(rows)} tracings of {len({(r['kind'], r['seed']) for r in rows})} scenes: with no touch "
        f"{len(done) - len(touched) - len(lost)}, with a touch in each piece {len(touched)}, a piece not found {len(lost)}, "
        f"refused {len(rows) - len(done)}; with a warning {len(warned)}; outside what is stated and no warning {len(wrong)}; "
        f"pieces where there is none {sum(r['too_many'] for r in done)}",
        f"what is stated held for {100 * held:.0f} % of {len(pieces)} pieces; corners found "
        f"{100 * sum(c['found'] for c in corners) / true:.1f} %, extra {100 * sum(c['extra'] for c in corners) / true:.1f} %, "
        f"off by {np.mean(off):.2f} mm; notches within 1 mm {100 * np.mean(notches):.0f} % of {len(notches)}",
    ]


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--seeds", default="0:9", help="from:to, the last left out")
    ask.add_argument("--kinds", default=",".join(KINDS))
    ask.add_argument(
        "--width", type=int, default=4032, help="of the picture in pixels; 4032 are 12 megapixels"
    )
    ask.add_argument(
        "--cut", action="store_true", help="sheets and readings with the tolerances of real ones"
    )
    ask.add_argument("--json", type=Path, help="keep every row here, after each scene")
    ask.add_argument("--again", type=Path, help="print the table of such a file")
    given = ask.parse_args()
    if given.again:
        print(table(json.loads(given.again.read_text(encoding="utf-8"))))
        return 0
    low, high = (int(v) for v in given.seeds.split(":"))
    rows: list[dict[str, Any]] = []
    for seed in range(low, high):
        for kind in given.kinds.split(","):
            new = run(kind, seed, given.width, given.cut)
            rows += new
            for row in new:
                print(
                    f"# {seed:>3} {kind:10} {'paper' if row['square'] else '-':6}{row['paper']:10} "
                    + (row.get("said") or "; ".join(_short(row, p) for p in row["pieces"])),
                    file=sys.stderr, flush=True,
                )  # fmt: skip
            if given.json:
                given.json.write_text(json.dumps(rows), encoding="utf-8")
    print(table(rows))
    return 0


def _short(row: dict[str, Any], piece: dict[str, Any]) -> str:
    if "lost" in piece:
        return f"{piece['name']} lost"
    return (
        f"{piece['name']} {piece['scale']:+.2f} % ({row['percent']:.2f}), {piece['p95']:.2f} mm "
        f"({piece['stated']:.2f})"
    )


if __name__ == "__main__":
    sys.exit(main())
