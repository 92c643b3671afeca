"""Write the goldens that the program and the front end share: ``tests/shared/*.json``.

``python tools/make_goldens.py`` writes them; ``--check`` compares, with room for rounding, and returns 1 where
one is out of date. The numbers come from :mod:`eke`; the tests beside the goldens hold them against libraries
that we did not write, and the front end's tests run the same files.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable, Sequence
from pathlib import Path as FilePath
from typing import Any

sys.path.insert(0, str(FilePath(__file__).resolve().parents[1]))

from tools.goldens import corners, garment, lays, paths, polygons, walks

SHARED = FilePath(__file__).resolve().parents[1] / "tests" / "shared"
SAME = 1e-6
"""Numbers may differ by so much, absolutely and relative to their size: rounding of other machines."""

MAKERS: dict[str, Callable[[], Any]] = {
    "paths.json": paths.make,
    "rigid.json": polygons.make_rigid,
    "polygons.json": polygons.make,
    "lays.json": lays.make,
    "corners.json": corners.make,
    "walks.json": walks.make,
    "garment.json": garment.make,
}


def text_of(value: Any) -> str:
    """Return JSON that a person can read in a diff: one line for each innermost list or record."""
    return _block(value, "") + "\n"


def _block(value: Any, indent: str) -> str:
    flat = json.dumps(_short(value), ensure_ascii=False)
    if len(flat) + len(indent) <= 110 or not isinstance(value, dict | list | tuple) or _is_leaf(value):
        return flat
    inner = indent + " "
    if isinstance(value, dict):
        rows = [f"{inner}{json.dumps(k)}: {_block(v, inner)}" for k, v in value.items()]
        return "{\n" + ",\n".join(rows) + "\n" + indent + "}"
    rows = [inner + _block(v, inner) for v in value]
    return "[\n" + ",\n".join(rows) + "\n" + indent + "]"


def _is_leaf(value: Any) -> bool:
    """Whether it is a list of points or of numbers: one line, however long."""
    return isinstance(value, list | tuple) and all(
        isinstance(v, int | float)
        or (isinstance(v, list | tuple) and all(isinstance(x, int | float) for x in v))
        for v in value
    )


def _short(value: Any) -> Any:
    if isinstance(value, bool) or value is None or isinstance(value, str | int):
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError("A golden holds a number that is none.")
        return round(value, 9) + 0.0
    if isinstance(value, dict):
        return {k: _short(v) for k, v in value.items()}
    return [_short(v) for v in value]


def differs(one: Any, other: Any, where: str = "") -> str | None:
    """Return where two values differ by more than rounding, or nothing."""
    if isinstance(one, dict) and isinstance(other, dict):
        if set(one) != set(other):
            return f"{where}: other names ({sorted(set(one) ^ set(other))})"
        return next((d for k in one if (d := differs(one[k], other[k], f"{where}/{k}"))), None)
    if isinstance(one, list) and isinstance(other, list):
        if len(one) != len(other):
            return f"{where}: {len(one)} entries, not {len(other)}"
        pairs = enumerate(zip(one, other, strict=True))
        return next((d for i, (a, b) in pairs if (d := differs(a, b, f"{where}/{i}"))), None)
    if isinstance(one, bool) or isinstance(other, bool) or not isinstance(one, int | float):
        return None if one == other else f"{where}: {one!r}, not {other!r}"
    if not isinstance(other, int | float) or abs(one - other) > SAME * max(1.0, abs(one)):
        return f"{where}: {one!r}, not {other!r}"
    return None


def main(arguments: Sequence[str]) -> int:
    """Write or check the goldens; the names of some may be given."""
    checking = "--check" in arguments
    names = [a for a in arguments if not a.startswith("-")] or list(MAKERS)
    stale = 0
    for name in names:
        text = text_of(MAKERS[name]())
        file = SHARED / name
        if checking:
            found = "it is missing"
            if file.exists():
                found = differs(json.loads(text), json.loads(file.read_text(encoding="utf-8"))) or ""
            if found:
                stale += 1
                print(f"tests/shared/{name} is out of date: {found}. Run tools/make_goldens.py.")
        else:
            SHARED.mkdir(exist_ok=True)
            file.write_text(text, encoding="utf-8", newline="\n")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
