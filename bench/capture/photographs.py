"""Trace all photographs with known truth and print what was reached beside what must be.

usage: python bench/capture/photographs.py [NAME …] [--folder FOLDER] [--plain]

The folder is ``photos`` of EKE_SHARED or of ``../shared`` beside the checkout; names are parts of file names.
``--plain`` does not use the paper's straight edges as evidence. Deviations and scale are computed by the
folder's own ``score.py`` against the drawn line; what is stated is compared with what happened.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(HERE / "src"))

from eke.capture.references import Reference  # noqa: E402
from eke.capture.sheet import parse_sheet_geometry  # noqa: E402
from eke.capture.trace import trace, trace_json  # noqa: E402
from eke.errors import EkeError  # noqa: E402
from eke.formats.images import read_photo  # noqa: E402

# what must be reached (scale %, 95th percentile mm, largest mm), by reference and use of the paper's edges
MUST = {
    ("two_sheets", True): (0.10, 0.4, 1.0),
    ("two_sheets", False): (0.10, 0.4, 1.0),
    ("sheet", True): (0.10, 0.4, 1.0),
    ("sheet", False): (0.25, 0.8, 1.5),
    ("a4", True): (0.15, 0.6, 1.2),
    ("letter", True): (0.15, 0.6, 1.2),
    ("a4", False): (0.4, 1.5, 3.0),
    ("letter", False): (0.4, 1.5, 3.0),
    ("card", True): (0.2, 0.7, 1.5),
    ("card", False): (0.5, 2.5, 4.0),
}
WIDE = 1.5


def shared() -> Path:
    return Path(os.environ.get("EKE_SHARED") or HERE.parent / "shared")


def kind_of(name: str) -> str:
    return next(k for k in ("two_sheets", "sheet", "a4", "letter", "card") if k in name)


def stated(kind: str, truth: dict, folder: Path) -> list[Reference]:
    """What a maker would say: which reference, and what they read on its check line."""
    if kind in ("a4", "letter", "card"):
        return [Reference(kind)]
    entries = json.loads((folder / "reference-sheet.json").read_text(encoding="utf-8"))
    out = []
    for one in truth["references"]:
        first = one["markers_frame"][0]["id"]
        count = len(one["markers_frame"])
        entry = next(
            e
            for e in entries.values()
            if isinstance(e, dict) and e["markers"][0]["id"] == first and len(e["markers"]) == count
        )
        out.append(Reference("sheet", parse_sheet_geometry(entry), one["user_measured_check_line_mm"]))
    return out


def score(folder: Path, result: dict, truth_file: Path) -> list[dict]:
    with tempfile.TemporaryDirectory() as where:
        out = Path(where) / "result.json"
        out.write_text(json.dumps(result), encoding="utf-8")
        command = [sys.executable, str(folder / "score.py"), str(out), str(truth_file), "--json"]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)["pieces"]


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("names", nargs="*")
    ask.add_argument("--folder", type=Path, default=shared() / "photos")
    ask.add_argument("--plain", action="store_true")
    given = ask.parse_args()
    if not given.folder.exists():
        print(f"no photographs at {given.folder}", file=sys.stderr)
        return 2
    rows = []
    for file in sorted(given.folder.glob("*.truth.json")):
        if given.names and not any(n in file.name for n in given.names):
            continue
        truth = json.loads(file.read_text(encoding="utf-8"))
        picture = given.folder / truth["image"]["file"]
        kind = kind_of(file.name)
        square = bool(truth["sheet"]["rectangular"]) and not given.plain
        cloth = truth["kind"] == "cloth"
        must = MUST[kind, square]
        if "wide" in file.name:
            must = tuple(m * WIDE for m in must)
        began, cpu = time.perf_counter(), time.process_time()
        row = {"case": truth["case"], "reference": kind + ("+paper" if square else ""), "must": must}
        try:
            got = trace(
                read_photo(picture),
                references=stated(kind, truth, given.folder),
                square_paper=square,
                cloth=cloth,
            )
        except EkeError as no:
            row["said"] = f"{type(no).__name__}: {no.message}"
            rows.append(row)
            continue
        row["seconds"], row["cpu"] = time.perf_counter() - began, time.process_time() - cpu
        row["stated_percent"] = got.uncertainty_percent
        found = got.cloths if cloth else got.pieces
        row["stated_mm"] = max(f.uncertainty_mm for f in found)
        row["warnings"] = list(got.warnings)
        row["pieces"] = score(given.folder, trace_json(got), file)
        rows.append(row)
    print_table(rows)
    return 0


def print_table(rows: list[dict]) -> None:
    head = f"{'case':34}{'reference':18}{'scale %':>14}{'p95 mm':>14}{'max mm':>14}{'stated % / mm':>16}{'s cpu':>7}  ok"
    print(head)
    reached = wrong = refused = covered = judged = 0
    for row in rows:
        name = f"{row['case'][:33]:34}{row['reference']:18}"
        if "said" in row:
            refused += 1
            print(f"{name}refused - {row['said']}")
            continue
        lost = [p["piece"] for p in row["pieces"] if p.get("missing")]
        seen = [p for p in row["pieces"] if not p.get("missing")]
        scale = max((abs(p["scale_error_pct"]) for p in seen), default=float("inf"))
        p95 = max((p["dev_sym"]["p95"] for p in seen), default=float("inf"))
        largest = max((p["dev_sym"]["max"] for p in seen), default=float("inf"))
        must = row["must"]
        ok = not lost and scale <= must[0] and p95 <= must[1] and largest <= must[2]
        mirrored = any(p["mirror_suspected"] for p in seen)
        reached += ok and not mirrored
        inside = scale <= row["stated_percent"] and p95 <= row["stated_mm"]
        judged += 1
        covered += inside
        wrong += (not ok) and not inside and not row["warnings"]
        cells = "".join(
            f"{value:>8.3f}/{limit:<5.2f}"
            for value, limit in ((scale, must[0]), (p95, must[1]), (largest, must[2]))
        )
        note = f" lost {', '.join(lost)}" if lost else ""
        note += " MIRRORED" if mirrored else ""
        note += "".join(f"\n    - {w}" for w in row["warnings"])
        print(
            f"{name}{cells}{row['stated_percent']:>9.2f} /{row['stated_mm']:>5.2f}{row['cpu']:>7.1f}"
            f"  {'yes' if ok else 'NO'}{'' if inside else ' (outside what is stated)'}{note}"
        )
        for p in seen:
            corners = p.get("corners") or {}
            if corners.get("truth"):
                print(
                    f"      {p['piece']:22} corners {corners['matched']}/{corners['truth']} +{corners['extra']} extra, "
                    f"mean {corners['err_mean']} mm; notches {(p.get('notches') or {}).get('matched')}/"
                    f"{(p.get('notches') or {}).get('truth')}; curve pieces {p['nodes']}/{p['true_segments']}"
                )
    print(
        f"\n{reached} of {len(rows)} reach the numbers; {refused} refused; {wrong} wrong without saying so; "
        f"what is stated held in {covered} of {judged}"
    )


if __name__ == "__main__":
    sys.exit(main())
