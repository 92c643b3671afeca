"""The sentences of the order of work."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from eke.making.seams import Making, clip_count, clipping
from eke.pattern.model import Piece, Seam
from eke.sentences import in_a_row

FinishKind = Literal["trim", "neaten", "press", "understitch"]


def listed(names: Sequence[str]) -> str:
    """Names in a sentence, each once: ``front, back and pocket``."""
    return in_a_row(names) or "nothing"


def sew_words(making: Making, seams: Sequence[Seam]) -> str:
    """How seams are sewn that are one in the work: a single one, or those of one facing."""
    seam = seams[0]
    times = making.times(seam)
    both = "" if times == 1 else ", on both sides" if times == 2 else f", {times} times"
    layers = making.layers_of(seam)
    if "facing" in layers and "outer" in layers:
        parts = [part for one in seams for part in one.parts()]
        faced = listed([making.piece(p.piece).name for p in parts if making.layer(p.piece) == "outer"])
        facing = listed([making.title(p.piece) for p in parts if making.layer(p.piece) == "facing"])
        return f"Sew the {facing} to {faced}{both}, right sides together, seams and notches matching."
    a, b = (listed([making.piece(part.piece).name for part in run]) for run in (seam.a, seam.b))
    what = f"{a} to {b}" if a != b else f"{a} to itself"
    if seam.name and seam.name != what:
        what = f"{seam.name}, {what}" if _tells_more(seam.name, a, b) else what
    how = {
        "plain": "right sides together",
        "french": "first wrong sides together at half the allowance; trim to 3 mm, turn, press, then right sides together",
        "flat-felled": "wrong sides together; trim one allowance to 6 mm, fold the other over it and stitch it down",
        "bound": "right sides together, and bind both allowances as one",
        "lapped": "one over the other on the seam line, and stitch close to the fold",
        "enclosed": "right sides together",
    }[seam.kind]
    words = f"Sew {what}{both}: {how}."
    if abs(seam.ease_mm) >= 1.0:
        longer = a if seam.ease_mm > 0 else b
        between = " between the notches" if seam.ease_between else ""
        words += f" {longer[0].upper()}{longer[1:]} is {abs(seam.ease_mm):.0f} mm longer on purpose: ease it in{between}."
    return words


def _tells_more(name: str, a: str, b: str) -> bool:
    """Whether a seam's name says more than the names of its pieces do."""
    words = set(name.lower().replace("(", " ").replace(")", " ").split()) - {"to", "and", "the", "of"}
    return bool(words - set(f"{a} {b}".lower().replace(",", " ").split()))


def finish_steps(making: Making, seams: Sequence[Seam]) -> list[tuple[FinishKind, str]]:
    """What follows the sewing of seams that are one in the work: trim and clip, understitch, press, neaten."""
    seam = seams[0]
    layers = making.layers_of(seam)
    enclosed = seam.kind == "enclosed" or len(layers) > 1
    curves = [clipping(making, one) for one in seams]
    clips = clip_count(sum(c.inward_mm for c in curves))
    wedges = clip_count(sum(c.outward_mm for c in curves))
    each = " on each side" if making.times(seam) == 2 else ""
    steps: list[tuple[FinishKind, str]] = []
    if enclosed:
        words = "Trim the allowances to 3 to 6 mm, graded so that the one next to the outside stays widest"
        if clips[1]:
            words += f"; clip the inward curves every 6 to 13 mm ({clips[0]} to {clips[1]} clips{each})"
        if wedges[1]:
            words += f"; cut wedges from the outward curves ({wedges[0]} to {wedges[1]}{each})"
        steps.append(("trim", f"{words}."))
        if "facing" in layers:
            steps.append(
                ("understitch", "Understitch: facing and allowances together, 1 to 3 mm beside the seam.")
            )
        steps.append(("press", "Turn, roll the seam a little to the inside, and press."))
        return steps
    if clips[1] and seam.kind == "plain":
        words = f"Clip the inward curves every 6 to 13 mm ({clips[0]} to {clips[1]} clips{each}), to 2 mm from the stitching."
        steps.append(("trim", words))
    if layers == {"facing"}:
        steps.append(("press", "Press the seam flat as sewn, then open, and trim its allowances to 6 mm."))
        return steps
    press = (
        "Press the seam flat as sewn, then open."
        if seam.kind == "plain"
        else "Press the seam flat, to one side."
    )
    steps.append(("press", press))
    if seam.kind == "plain":
        steps.append(("neaten", "Neaten the two allowances (zigzag, or pinked on cloth that does not fray)."))
    return steps


def hem_words(layer: str, pieces: Sequence[Piece]) -> str:
    """How the hem is made, with its depth where it is one."""
    depths = {e.allowance_mm for p in pieces for e in p.edges if e.kind == "hem"}
    depth = next(iter(depths)) if len(depths) == 1 else None
    deep = f" ({depth:.0f} mm deep)" if depth else ""
    if layer == "lining":
        return f"Hem the lining{deep}: turn it up twice and stitch; it ends a little above the outside."
    return f"Let the garment hang for a while, level the hem, turn it up{deep}, press, and sew it by hand or machine."
