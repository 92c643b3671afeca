"""A quick look at a photograph while the paper still lies there: is it worth going on, and what is better done again.

It measures nothing that is used later. It looks for what a maker can put right in a minute: too little light, blur, a
slanted camera, nothing of known size, something cut off by the border, taken from too far. Of several troubles with one
cause only the cause is told: in a dark picture no sheet is seen, and that is no second thing to do. What it tells are
remarks, and nothing is refused for them.

The same picture always gets the same answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.glance_edges import edge_width
from eke.capture.glance_reference import Kind, Look, SeenReference, look_for_reference, small_copy
from eke.capture.glance_tilt import Slant, least_slant
from eke.capture.light import linear_luma
from eke.capture.photo import Photo
from eke.capture.quads import Quad
from eke.capture.seeds import focals

__all__ = ["Code", "Finding", "Glance", "glance"]

Array = NDArray[np.float64]
Code = Literal[
    "dark", "bright", "blurred", "reference-cut", "no-reference", "ruler", "slanted", "far", "paper-cut"
]
QUESTIONS: Final[frozenset[Code]] = frozenset({"ruler"})
"""What is asked and no trouble: the picture may be as good as any."""

LIGHT_SIDE_PX: Final = 700
DARK_WHITE: Final = (
    0.22  # linear light of the lightest hundredth: white paper has 0.6 to 0.95 in a good picture
)
BURNT_GREY: Final = 253
BURNT_SHARE: Final = 0.10  # of the picture
WIDEST_EDGE_PX: Final = 5.5  # of a picture of up to 4032 pixels; good ones have 2 to 4.5
USUAL_SIDE_PX: Final = 4032
VERY_WIDE_PX: Final = 9.0  # in such a blur no sheet is found either
MOST_TILT_DEG: Final = 42.0  # all up to 35 are traced; the look may be 5 off
SLANT_SUPPORT: Final = 0.8  # of a rectangle's border, and its share of the picture: to tell a slant by it
SLANT_SHARE: Final = 0.008
COARSEST_MM: Final = {"tracing": 0.9, "cloth": 1.8}  # to a pixel: a pencil line is 0.5 mm wide
PAPER_SHARE: Final = 0.12  # of the picture
PAPER_SUPPORT: Final = 0.7
CUT_SIDES: Final = (1, 2)  # of four: with more it may be the floor beside the paper


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is better done again: what is seen, what to do, and where in the picture (pixels), if anywhere."""

    code: Code
    sentence: str
    remedy: str
    place_px: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Glance:
    """What a quick look tells. Measures are None where the picture does not show them.

    Parameters
    ----------
    findings
        What is better done again, the cause of most first.
    white
        Linear light (0 to 1) of the lightest hundredth of the picture.
    burnt
        Share of the picture that is burnt out.
    edge_px
        Width of its edges (10 to 90 %), pixels.
    reference, reference_cut
        What of known size is seen, and whether the border cuts it off.
    tilt_deg
        Between the camera's axis and the plumb line, to some 5 degrees.
    height_mm
        Of the camera over the ground, to a tenth.
    mm_per_px
        Where the reference lies.
    filled
        Share of the picture that paper and reference fill.
    """

    findings: tuple[Finding, ...]
    white: float
    burnt: float
    edge_px: float | None
    reference: Kind | None
    reference_cut: bool
    tilt_deg: float | None
    height_mm: float | None
    mm_per_px: float | None
    filled: float

    @property
    def good(self) -> bool:
        """Whether nothing is better done again."""
        return all(one.code in QUESTIONS for one in self.findings)


def glance(photo: Photo, *, cloth: bool = False) -> Glance:
    """Look at a photograph of a tracing, or of cloth. A scan has nothing of this to tell."""
    if photo.scanned:
        return Glance((), 1.0, 0.0, None, None, False, None, None, None, 1.0)
    white, burnt = _light(photo)
    edge = edge_width(np.asarray(cv2.cvtColor(photo.pixels_rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8))
    lens = focals(photo)
    look = look_for_reference(photo, lens)
    slant = _slant(photo, look, lens)
    reference = look.references[0] if look.references else None
    findings = [*_of_light(white, burnt), *_of_edges(photo, edge)]
    hidden = white < DARK_WHITE or (edge or 0.0) > VERY_WIDE_PX
    slanted = _of_slant(slant)
    findings += _of_reference(photo, look, told=hidden or bool(slanted))
    findings += [*slanted, *_of_distance(reference, cloth)]
    if not cloth and not hidden:
        findings += _of_paper(photo, look)
    return Glance(
        tuple(findings),
        round(white, 3),
        round(burnt, 3),
        None if edge is None else round(edge, 1),
        None if reference is None else reference.kind,
        reference is not None and reference.cut,
        None if slant is None else slant.tilt_deg,
        None if reference is None or reference.height_mm is None else round(reference.height_mm, -1),
        None if reference is None or reference.mm_per_px is None else round(reference.mm_per_px, 3),
        round(_filled(photo, look), 2),
    )


# ---- what is measured


def _light(photo: Photo) -> tuple[float, float]:
    pixels = small_copy(photo, LIGHT_SIDE_PX)[0].pixels_rgb
    burnt = float((pixels.min(axis=2) >= BURNT_GREY).mean())
    return float(np.percentile(linear_luma(pixels), 99.0)), burnt


def _slant(photo: Photo, look: Look, lens: Sequence[float]) -> Slant | None:
    area = photo.width_px * photo.height_px
    plain = [
        (q.corners_px, None)
        for q in look.quads
        if q.whole and q.support > SLANT_SUPPORT and q.area_px > SLANT_SHARE * area
    ]
    size = (photo.width_px, photo.height_px)
    # cloth and torn paper have four corners, too: where they do not fit, what has a known shape is asked alone
    return least_slant([*look.rectangles, *plain], size, lens) or least_slant(look.rectangles, size, lens)


def _filled(photo: Photo, look: Look) -> float:
    """Of the picture: the convex hull of the reference and of the largest sheet of paper that is seen."""
    parts = [look.references[0].outline_px] if look.references else []
    paper = next((q for q in look.quads if q.support > PAPER_SUPPORT), None)
    if paper is not None:
        parts.append(paper.corners_px)
    if not parts:
        return 0.0
    hull = cv2.convexHull(np.concatenate(parts).astype(np.float32))
    return min(1.0, float(cv2.contourArea(hull)) / (photo.width_px * photo.height_px))


# ---- what is told


def _of_light(white: float, burnt: float) -> list[Finding]:
    if white < DARK_WHITE:
        return [
            Finding(
                "dark",
                "The picture is very dark, so thin lines are lost in it.",
                "Let in daylight or put on more lamps, away from the paper, and take it again. Leave the flash off.",
            )
        ]
    if burnt > BURNT_SHARE:
        return [
            Finding(
                "bright",
                "A large part of the picture is burnt out to plain white, and thin lines are lost there.",
                "Leave the flash off, keep the sun off the paper, touch the paper on the phone’s screen, and take it again.",
            )
        ]
    return []


def _of_edges(photo: Photo, edge_px: float | None) -> list[Finding]:
    if edge_px is None or edge_px <= WIDEST_EDGE_PX * max(
        1.0, max(photo.width_px, photo.height_px) / USUAL_SIDE_PX
    ):
        return []
    return [
        Finding(
            "blurred",
            f"The picture is blurred: its edges are {edge_px:.0f} pixels wide, where a sharp one has 2 to 4.",
            "Wipe the lens, touch the paper on the phone’s screen so that it is sharp, hold still, and take it again.",
        )
    ]


NAMES: Final[dict[Kind, str]] = {
    "sheet": "The printed sheet",
    "marks": "The sheet of printed marks",
    "a4": "The sheet of A4",
    "letter": "The Letter sheet",
    "card": "The card",
}


def _of_reference(photo: Photo, look: Look, *, told: bool) -> list[Finding]:
    """``told``: what hides it has been told already."""
    whole = "Move it or step back, so that all of it and some floor around it is in the picture, and take it again."
    if look.references and not look.references[0].cut:
        return []
    if look.references:
        first = look.references[0]
        where = _where(photo, first.outline_px)
        place = _place(first.outline_px)
        return [Finding("reference-cut", f"{NAMES[first.kind]} is cut off{where}.", whole, place)]
    if told:
        return []
    if look.cut_sheet is not None:
        where = _where(photo, look.cut_sheet)
        place = _place(look.cut_sheet)
        return [Finding("reference-cut", f"A sheet of paper is cut off{where}.", whole, place)]
    if look.strip is not None:
        return [
            Finding(
                "ruler",
                "Something long and narrow lies there, and nothing else of known size.",
                "If it is a ruler or a tape, say so before the picture is traced, and mark two points on it. If not, "
                "lay a plain sheet of A4 or Letter flat beside the paper, and take it again.",
                _place(look.strip),
            )
        ]
    return [
        Finding(
            "no-reference",
            "Nothing of known size was noticed in the picture, and without it the pattern has no scale.",
            "Lay a plain sheet of A4 or Letter flat beside it, and take it again. If one lies there all the same, or a "
            "ruler, the picture will do: you show it before it is traced.",
        )
    ]


def _of_slant(slant: Slant | None) -> list[Finding]:
    if slant is None or slant.tilt_deg <= MOST_TILT_DEG:
        return []
    return [
        Finding(
            "slanted",
            f"The phone was held aslant, by about {5 * round(slant.tilt_deg / 5):.0f}°: what lies far off is drawn small.",
            "Stand over the middle, hold the phone level with its back to the floor, and take it again.",
        )
    ]


def _of_distance(reference: SeenReference | None, cloth: bool) -> list[Finding]:
    scale = None if reference is None else reference.mm_per_px
    if reference is None or scale is None or scale <= COARSEST_MM["cloth" if cloth else "tracing"]:
        return []
    what = "a thread" if cloth else "a pencil line"
    return [
        Finding(
            "far",
            f"The picture is coarse: a millimetre is {1.0 / scale:.1f} pixels wide, and {what} is lost in it.",
            "Go nearer, or photograph it in parts; set the camera to its full size, and send the file itself.",
        )
    ]


def _of_paper(photo: Photo, look: Look) -> list[Finding]:
    area = photo.width_px * photo.height_px
    cut = [
        q
        for q in look.quads
        if sum(q.at_border) in CUT_SIDES and q.area_px > PAPER_SHARE * area and q.support > PAPER_SUPPORT
    ]
    whole = [
        q for q in look.quads if q.whole and q.area_px > PAPER_SHARE * area and q.support > PAPER_SUPPORT
    ]
    if not cut or any(_within(cut[0], q) for q in whole):
        return []
    return [
        Finding(
            "paper-cut",
            f"The paper runs out of the picture{_where(photo, cut[0].corners_px)}.",
            "If a line that you want runs out with it, step back and take it again.",
            _place(cut[0].corners_px),
        )
    ]


def _within(inner: Quad, outer: Quad) -> bool:
    """Whether the middle of one lies in the other."""
    x, y = inner.corners_px.mean(axis=0)
    ring = outer.corners_px.astype(np.float32).reshape(-1, 1, 2)
    return bool(cv2.pointPolygonTest(ring, (float(x), float(y)), False) >= 0)


def _where(photo: Photo, outline: Array) -> str:
    """ "on the left", "at the top and on the right": the borders that an outline comes near to or goes beyond."""
    near = 0.012 * max(photo.width_px, photo.height_px)
    (left, top), (right, bottom) = outline.min(axis=0), outline.max(axis=0)
    sides = {
        "on the left": left < near,
        "on the right": right > photo.width_px - 1 - near,
        "at the top": top < near,
        "at the bottom": bottom > photo.height_px - 1 - near,
    }
    named = [words for words, reached in sides.items() if reached]
    return " " + " and ".join(named) if named else " by the picture’s border"


def _place(outline: Array) -> tuple[tuple[float, float], ...]:
    return tuple((round(float(x), 1), round(float(y), 1)) for x, y in outline)
