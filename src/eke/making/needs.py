"""Notions: what else is needed, computed from the seams and what is known of the garment."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from eke.cloth import Cloth
from eke.derive.derived import Derived
from eke.making.closures import buttonhole_mm, overlap_mm
from eke.making.facts import Facts
from eke.making.seams import Making, making_of
from eke.pattern.model import Pattern, Seam, SeamId

THREAD_PER_SEAM: Final[Mapping[str, float]] = {
    "101": 4.0, "301": 2.5, "304": 7.0, "401": 5.5, "503": 12.0, "504": 14.0, "512": 18.0, "516": 20.0, "406": 18.0,
    "602": 25.0, "605": 28.0, "606": 32.0,
}  # fmt: skip
"""Length of thread for a length of seam, by stitch class of ISO 4915 (work-study sheet citing *Carr and
Latham's Technology of Clothing Manufacture* and a thread maker)."""
WASTE_PERCENT: Final = 15.0
"""Ends, tacking, unpicking: 10 to 20 % in two sources."""
ROUNDS: Final[Mapping[str, int]] = {
    "plain": 1,
    "french": 2,
    "flat-felled": 2,
    "bound": 3,
    "lapped": 1,
    "enclosed": 1,
}
"""Rows of lockstitch that a seam of that kind takes."""
ZIGZAG: Final = "304"
BUTTON_THREAD_MM: Final = 1_000.0
"""A metre of thread to sew on a button with its shank (common practice)."""
BUTTONHOLE_THREAD_MM: Final = 2_000.0
"""Two metres of thread for a buttonhole (common practice)."""
REEL_M: Final = 100.0

NeedKind = Literal["button", "thread", "interfacing", "needle", "note"]


@dataclass(frozen=True, slots=True)
class Need:
    """One notion: so much of it, in ``unit``, and the sentence for the list."""

    kind: NeedKind
    name: str
    amount: float
    unit: str
    sentence: str


def thread_mm(seam_mm: float, stitch: str = "301") -> tuple[float, float, float]:
    """Thread for so much seam, in mm: in all, in the needle, and in the bobbin.

    Lockstitch (301) takes as much from the bobbin as from the needle; of other stitches nothing is said.
    """
    total = seam_mm * THREAD_PER_SEAM[stitch]
    return (total, total / 2, total / 2) if stitch == "301" else (total, math.nan, math.nan)


def lockstitch_ratio(thickness_mm: float, stitch_mm: float) -> float:
    """Length of thread per length of lockstitch seam in cloth that thick: 2 + 2 T / l."""
    return 2.0 + 2.0 * thickness_mm / stitch_mm


def stitches_per_inch(stitch_mm: float) -> float:
    """How many stitches of that length an inch holds."""
    return 25.4 / stitch_mm


def stitch_for(weight_gsm: float | None) -> tuple[float, str]:
    """Stitch length in mm and needle (metric/US) for cloth of that weight; the general ones when not known."""
    if weight_gsm is None:
        return 2.5, "80/12"
    if weight_gsm < 150:
        return 2.0, "70/10"
    return (2.5, "80/12") if weight_gsm <= 270 else (3.0, "100/16")


def notions_for(
    pattern: Pattern,
    derived: Sequence[Derived] = (),
    seams: Mapping[SeamId, Seam] | None = None,
    *,
    facts: Facts | None = None,
    cloths: Sequence[Cloth] = (),
) -> tuple[Need, ...]:
    """Return the notions that the garment needs."""
    making, facts = making_of(pattern, derived, seams), facts or Facts()
    needs = [*_buttons(making, facts), _thread(making, facts), *_interfacing(making)]
    weights = [cloth.weight_gsm for cloth in cloths if cloth.weight_gsm is not None]
    stitch, needle = stitch_for(max(weights) if weights else None)
    needs.append(
        Need(
            "needle",
            "machine needle",
            1,
            "piece",
            f"A new machine needle {needle}; stitch length {stitch:g} mm.",
        )
    )
    return tuple(needs)


def _buttons(making: Making, facts: Facts) -> list[Need]:
    found = []
    for button in facts.buttons:
        hole = buttonhole_mm(button.diameter_mm, button.thickness_mm, ball=button.ball)
        reach = overlap_mm(button.diameter_mm)
        words = (
            f"{button.count} button{'s' if button.count > 1 else ''} of {button.diameter_mm:g} mm; buttonholes {hole:.0f} mm "
            f"long; the edge reaches at least {reach:.0f} mm beyond the line of the buttons. One more to spare."
        )
        found.append(Need("button", f"button {button.diameter_mm:g} mm", button.count, "piece", words))
    if not found:
        count = 0
        for piece in making.pieces.values():
            copies = max(
                (c.count * (2 if c.pairs or piece.fold is not None else 1) for c in piece.cuts), default=1
            )
            count += copies * sum(1 for mark in piece.marks if mark.kind == "button")
        if count:
            words = f"{count} button{'s' if count > 1 else ''}. Measure one, and its size decides the buttonholes."
            found.append(Need("button", "button", count, "piece", words))
    return found


def _thread(making: Making, facts: Facts) -> Need:
    sewn = neatened = 0.0
    for seam in making.seams.values():
        length = making.length_mm(seam) * making.times(seam)
        sewn += length * ROUNDS[seam.kind]
        if seam.kind == "plain" and len(making.layers_of(seam)) == 1:
            neatened += 2 * length
    for piece in making.pieces.values():
        for edge in piece.edges:
            if edge.kind == "hem":
                copies = max(
                    (c.count * (2 if c.pairs or piece.fold is not None else 1) for c in piece.cuts), default=1
                )
                sewn += edge.path.length_mm * copies
    thread = thread_mm(sewn)[0] + thread_mm(neatened, ZIGZAG)[0]
    buttons = sum(button.count for button in facts.buttons)
    thread += buttons * (BUTTON_THREAD_MM + BUTTONHOLE_THREAD_MM)
    if thread == 0.0:
        words = "Sewing thread: how much, follows once it is said which edges are sewn together and which are hems."
        return Need("thread", "sewing thread", 1, "piece", words)
    metres = math.ceil(thread * (1 + WASTE_PERCENT / 100) / 1000)
    words = (
        f"About {metres} m of thread: {sewn / 1000:.1f} m of seams and hems, {neatened / 1000:.1f} m of edges neatened by "
        f"zigzag, {WASTE_PERCENT:g} % to spare ({math.ceil(metres / REEL_M)} × {REEL_M:g} m)."
    )
    return Need("thread", "sewing thread", metres, "m", words)


def _interfacing(making: Making) -> list[Need]:
    area = 0.0
    for piece in making.pieces.values():
        for cut in piece.cuts:
            if cut.role == "interfacing":
                copies = cut.count * (2 if cut.pairs or piece.fold is not None else 1)
                points = piece.outline.flatten()
                x, y = points[:, 0], points[:, 1]
                xs, ys = [*x[1:], x[0]], [*y[1:], y[0]]
                area += copies * abs(float((x * ys - y * xs).sum())) / 2
    if not area:
        return []
    words = f"Interfacing: {area / 1e6:.2f} m² of pieces, so buy about {1.3 * area / 1e6:.2f} m²."
    return [Need("interfacing", "interfacing", area / 1e6, "m²", words)]
