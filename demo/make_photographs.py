"""Make the demo's photographs: ``python -m demo.make_photographs [NAME …]``.

Renders the scenes below into ``demo/photographs/``, with the truth beside them, and writes
``photographs.json``: what a maker would tell the program about each picture. The pictures are committed; this
is run only to change them. One of them is HEIC, for which ``pillow-heif`` (a development package) is needed.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

from demo.garments import as_traced, piece
from demo.scenes.cloths import Cloth, blob, polygon, rectangle, round_outline
from demo.scenes.references import Reference, sheet_geometry
from demo.scenes.render import Light, Sensor, exif_bytes, to_heic, to_jpeg
from demo.scenes.scene import Paper, Photograph, Pose, Scene, phone_lens, photograph
from demo.scenes.strokes import Pen
from eke.capture.sheet import own_sheet

HERE = Path(__file__).parent / "photographs"
FORMAT = "eke-demo-photographs-1"

PRINT_SCALE = 1.004
"""The demo's printer prints this much too large: the check line reads 241 mm where 240 is meant."""

Told = dict[str, Any]


def _sheet(at: tuple[float, float], turn: float, number: int = 0) -> Reference:
    return Reference("sheet", at, turn, sheet_geometry(own_sheet("a4", number)), PRINT_SCALE)


def _told_sheet(number: int = 0) -> Told:
    line = own_sheet("a4", number).check_line
    assert line is not None
    return {
        "kind": "sheet",
        "paper": "a4",
        "number": number,
        "check_line_mm": round(2 * line.nominal_mm * PRINT_SCALE) / 2,
    }


def _traced(ids: tuple[str, ...]) -> list[Told]:
    out = []
    for i in ids:
        p = piece(i)
        told: Told = {"piece": i, "name": p.name, "traced": p.traced}
        if p.traced == "cut":
            told["allowance_mm"] = p.traced_allowance_mm
        if p.on_fold:
            told["on_fold"] = p.on_fold
        out.append(told)
    return out


def _place(ids: dict[str, tuple[float, float, float]]) -> tuple[Any, ...]:
    return tuple((as_traced(piece(i)), (x, y), turn) for i, (x, y, turn) in ids.items())


def tracings() -> list[tuple[Scene, Told]]:
    """Return the scenes with drawn pieces, and what the maker says about each."""
    phone = lambda seed, w, h: phone_lens(np.random.default_rng(seed), w, h, 26)  # noqa: E731
    front = Scene(
        "01-front-kraft-sheet", 101, phone(11, 4032, 3024), 26, Pose(11, 25, 2.5, True), "oak",
        (_sheet((585, 90), 86),), Paper("kraft", (330, 670)), _place({"front": (105, 55, 0.6)}),
        Pen("ballpoint", 0.7), light=Light(130, 0.22, shade_at=(0.75, -0.1)),
    )  # fmt: skip
    sides = Scene(
        "02-sides-taped-a4", 102, phone(12, 4032, 3024), 26, Pose(15, 160, -3, False, shift=(0.01, 0)), "dark wood",
        (Reference("a4", (765, 110), 93),), Paper("taped", (510, 600), seams_mm=(248.0,)),
        _place({"side_front": (80, 45, 0), "side_back": (430, 45, -0.8)}),
        Pen("pencil", 0.65, (72, 70, 72), 0.92, 0.25, 4, 2.5), light=Light(60, 0.2, (1.04, 1.0, 0.93)),
    )  # fmt: skip
    back = Scene(
        "03-back-newspaper-sheet", 103, phone(13, 3264, 2448), 26, Pose(9, 80, 4, True), "tiles",
        (_sheet((610, 210), 94, 1),), Paper("newspaper", (340, 690), straight=False), _place({"back": (230, 60, 0)}),
        Pen("felt", 2.0, (20, 18, 22), 0.97, 0.3, 2, 2.0), light=Light(200, 0.18, (1.0, 1.0, 0.98)),
    )  # fmt: skip
    small = Scene(
        "04-pocket-strap-pins-card", 104, phone(14, 4032, 3024), 26, Pose(8, 10, -2), "lino",
        (Reference("card", (292, 120), 6),), Paper("white", (420, 297)),
        _place({"pocket": (45, 70, 2.0), "strap": (222, 45, -1.0)}), Pen("pins"), light=Light(20, 0.3, shade=0.15),
    )  # fmt: skip
    apron = Scene(
        "05-apron-poster-a4", 105, phone(15, 4032, 3024), 26, Pose(13, 200, 1.5, False), "oak",
        (Reference("a4", (985, 180), 88),), Paper("poster", (720, 650)),
        _place({"apron_body": (50, 45, 0), "apron_pocket": (350, 60, 0), "apron_tie": (620, 55, 0)}),
        Pen("felt", 1.2, (30, 40, 120), 0.92, 0.3, 3, 2.0), light=Light(90, 0.2),
    )  # fmt: skip
    return [
        (front, {"references": [_told_sheet()], "square_paper": True, "left_to_right": _traced(("front",))}),
        (
            sides,
            {"references": [{"kind": "a4"}], "square_paper": True,
             "left_to_right": _traced(("side_front", "side_back"))},
        ),
        (back, {"references": [_told_sheet(1)], "square_paper": False, "left_to_right": _traced(("back",))}),
        (small, {"references": [{"kind": "card"}], "square_paper": True, "left_to_right": _traced(("pocket", "strap"))}),
        (
            apron,
            {"references": [{"kind": "a4"}], "square_paper": True,
             "left_to_right": _traced(("apron_body", "apron_pocket", "apron_tie"))},
        ),
    ]  # fmt: skip


def cloths() -> list[tuple[Scene, Told]]:
    """Return the scenes with cloth, and what the maker says about each."""
    phone = lambda seed: phone_lens(np.random.default_rng(seed), 4032, 3024, 26)  # noqa: E731
    rng = np.random.default_rng(200)
    moss = (96, 118, 92)
    outline, corners = rectangle(rng, 900, 1150)
    one = Cloth(
        outline, moss, 90.6, (0.80, 0.86), hem_mm=26, burns=(blob(rng, (590, 640), 34),), name="curtain one"
    )
    cut = np.array([[2, -3], [702, 3], [699, 640], [520, 996], [-3, 1001]], dtype=float)
    two = Cloth(polygon(rng, cut), moss, 89.5, (0.80, 0.86), hem_mm=0, name="curtain two")
    table = Cloth(
        round_outline(rng, 1000), (214, 205, 188), 68.0, (0.62, 0.66), pattern="checks", repeat_mm=24.0,
        second=(150, 82, 72), hem_mm=11, stains=(blob(rng, (690, 640), 120, 0.22),),
        worn=(blob(rng, (430, 420), 190, 0.2),), creases=4, name="tablecloth",
    )  # fmt: skip
    soft = Sensor(noise=0.004, quality=80)
    scenes = [
        Scene("06-curtain-burn-sheet", 106, phone(16), 26, Pose(12, 15, 1, True), "oak", (_sheet((1165, 330), 88),),
              cloth=one, cloth_corners=corners, light=Light(110, 0.22), sensor=soft),
        Scene("07-curtain-cut-a4", 107, phone(17), 26, Pose(10, 300, -2, True), "tiles",
              (Reference("a4", (975, 240), 95),), cloth=two, cloth_corners=cut, light=Light(250, 0.2), sensor=soft),
        Scene("08-tablecloth-stain-sheet", 108, phone(18), 26, Pose(9, 100, 2), "dark wood",
              (_sheet((1250, 300), 84),), cloth=table, light=Light(30, 0.2), sensor=soft),
    ]  # fmt: skip
    price = lambda minor: {"minor": minor, "currency": "EUR"}  # noqa: E731
    cotton = {"fibre": "cotton", "weight_gsm": 190, "washed": True, "nap": False, "both_faces_alike": True}
    told: list[Told] = [
        {"references": [_told_sheet()], "cloth": {
            **cotton, "name": "curtain one", "origin": "second-hand curtain", "price": price(250), "warp": "up"}},
        {"references": [{"kind": "a4"}], "cloth": {
            **cotton, "name": "curtain two", "origin": "second-hand curtain", "price": price(250), "warp": "up"}},
        {"references": [_told_sheet()], "cloth": {
            "name": "tablecloth", "origin": "worn tablecloth from home", "fibre": "cotton", "weight_gsm": 150,
            "washed": True, "nap": False, "both_faces_alike": True, "price": price(0), "warp": "along the checks"}},
    ]  # fmt: skip
    return list(zip(scenes, told, strict=True))


def _taps(ph: Photograph, scene: Scene) -> list[Told]:
    """Where a maker would touch the picture: once inside the cloth, and once on the floor."""
    assert scene.cloth is not None
    lo, hi = scene.cloth.outline.min(axis=0), scene.cloth.outline.max(axis=0)
    inside, outside = lo + (hi - lo) * [0.35, 0.45], np.array([lo[0] + 0.3 * (hi[0] - lo[0]), hi[1] + 6.0])
    px = ph.camera.project_upright(np.array([inside, outside]))
    return [
        {"touch_px": np.round(px[0]).astype(int).tolist(), "side": "+"},
        {"touch_px": np.round(px[1]).astype(int).tolist(), "side": "-"},
    ]


def compact(truth: dict[str, Any]) -> str:
    """Return the truth as JSON with one entry of the top two levels a line."""
    lines = []
    for key, value in truth.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            inner = ",\n  ".join(json.dumps(v, separators=(",", ":"), ensure_ascii=False) for v in value)
            lines.append(f' "{key}": [\n  {inner}\n ]')
        else:
            lines.append(f' "{key}": {json.dumps(value, separators=(",", ":"), ensure_ascii=False)}')
    return "{\n" + ",\n".join(lines) + "\n}\n"


def make(scene: Scene, told: Told, into: Path) -> Told:
    """Render one scene into ``into`` and return its entry for ``photographs.json``."""
    ph = photograph(scene)
    heic = scene.name.startswith("03")
    name = scene.name + (".heic" if heic else ".jpg")
    if heic:  # the container turns the picture itself, so it is stored upright
        upright = np.rot90(ph.picture, -1) if ph.camera.upright == 6 else ph.picture
        data = to_heic(np.ascontiguousarray(upright), exif_bytes(ph.camera, scene.focal_35mm, upright=1), 62)
    else:
        data = to_jpeg(ph.picture, exif_bytes(ph.camera, scene.focal_35mm), scene.sensor.quality)
    (into / "truth").mkdir(parents=True, exist_ok=True)
    (into / name).write_bytes(data)
    (into / "truth" / f"{scene.name}.json").write_text(compact(ph.truth), encoding="utf-8")
    entry: Told = {"file": name, "truth": f"truth/{scene.name}.json"}
    if scene.cloth is not None:
        entry |= {"shows": "cloth", **told, "touches": _taps(ph, scene)}
    else:
        entry |= {"shows": "tracing", **told}
        middles = {p["id"]: p["middle_upright_px"] for p in ph.truth["pieces"]}
        for p in entry["left_to_right"]:
            p["tap_px"] = [round(v) for v in middles[p["piece"]]]
    return entry


def main(names: list[str]) -> None:
    """Render all photographs, or those whose names begin so."""
    known = HERE / "photographs.json"
    entries = {}
    if known.exists():
        entries = {
            e["file"].split(".")[0]: e for e in json.loads(known.read_text(encoding="utf-8"))["photographs"]
        }
    for scene, told in [*tracings(), *cloths()]:
        if names and not any(scene.name.startswith(n) for n in names):
            continue
        start = time.perf_counter()
        entries[scene.name] = make(scene, told, HERE)
        size = (HERE / entries[scene.name]["file"]).stat().st_size
        print(f"{scene.name}: {size / 1e6:.2f} MB, {time.perf_counter() - start:.1f} s")
    doc = {
        "format": FORMAT,
        "about": "What the maker says about each picture. Pixels are those of the upright picture.",
        "photographs": [entries[k] for k in sorted(entries)],
    }
    known.write_text(json.dumps(doc, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
