"""What a mock-up may show, in the words of the trade, and the remedies that there are for it.

Sources are named by remedy; "common practice" where none is. A *factor* says what share of the whole amount on the
body one change takes on the piece that it is made on (two halves, four quarters: angles and widths are never doubled
by cutting a piece twice).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

THREADS_2019: Final = "Threads magazine, 2019"
NEW_DRESSMAKER: Final = "The New Dressmaker, Butterick 1921"
USDA: Final = "Fitting Dresses, US Department of Agriculture"
COMMON: Final = "common practice"


@dataclass(frozen=True, slots=True)
class Remedy:
    """One remedy: the kind of change (none: it is done in sewing), its share of the whole amount, and what it means.

    ``most_mm`` is the most of the whole amount for which it is sensible. ``length``: the amount is a length on the
    body, and not shared between halves.
    """

    kind: str
    factor: float
    does: str
    touches: str
    watch: str
    source: str
    most_mm: float | None = None
    length: bool = False


@dataclass(frozen=True, slots=True)
class Showing:
    """What the mock-up showed: its code, how a maker says it, and the remedies, the mildest first."""

    code: str
    words: str
    asks: str
    remedies: tuple[Remedy, ...]


SHOWINGS: Final[tuple[Showing, ...]] = (
    Showing(
        "neck-gapes-front",
        "The front neck stands away or gapes",
        "How much is pinned out at the neck?",
        (
            Remedy(
                "",
                0.5,
                "Ease the neck onto a tape that is shorter by so much",
                "the neck edge only",
                "Firm cotton takes 3 %, wool 5 %; more puckers.",
                COMMON,
                10.0,
            ),
            Remedy(
                "fit.wedge",
                0.5,
                "Lap from the neck to nothing at mid armhole, half on each half",
                "front, neck facing",
                "The bust stays; the shoulder tilts. Redraw the neck, and give the facing the same.",
                THREADS_2019,
                40.0,
            ),
            Remedy(
                "fit.take_in",
                1.0,
                "Take the princess seam in from the neck or shoulder to nothing at the bust point",
                "front, side front, facing",
                "Both edges of the seam keep one length.",
                COMMON,
                40.0,
            ),
            Remedy(
                "fit.wedge",
                0.5,
                "Lap from the neck to the hem, hinged at the hem",
                "front, facing; bust and waist get narrower",
                "It takes from the bust too, in proportion to the height.",
                THREADS_2019,
                30.0,
            ),
        ),
    ),
    Showing(
        "neck-gapes-back",
        "The back neck stands away",
        "How much is pinned out at the back neck?",
        (
            Remedy(
                "", 0.5, "Ease the neck onto a tape", "the neck edge only", "Only a little goes.", COMMON, 8.0
            ),
            Remedy(
                "fit.take_in",
                1.0,
                "Take it out of the centre-back seam, to nothing about 120 mm down",
                "back, back neck facing",
                "On a fold make a seam first, by cutting.",
                COMMON,
                30.0,
            ),
            Remedy(
                "fit.add_dart",
                0.5,
                "Two small darts at the neck, one on each half",
                "back, back neck facing",
                "About 70 to 90 mm long.",
                COMMON,
                30.0,
            ),
        ),
    ),
    Showing(
        "armhole-gapes",
        "The armhole gapes",
        "How much is pinned out at one armhole, doubled for both?",
        (
            Remedy(
                "",
                0.5,
                "Ease the armhole onto a tape that is shorter by so much",
                "the armhole only",
                "10 mm over 150 mm are 7 % and pucker.",
                COMMON,
                20.0,
            ),
            Remedy(
                "fit.wedge",
                0.5,
                "Turn it into the bust dart: lap from the armhole to the dart's point",
                "front, armhole facing; the dart gets wider",
                "The dart was too small: the honest remedy where the bust is full.",
                THREADS_2019,
            ),
            Remedy(
                "fit.take_in",
                1.0,
                "Out of the princess seam: nothing at the shoulder, most at mid armhole, nothing at the bust point",
                "front, side front, facing",
                "On one panel or shared. 8 mm here and 4 mm eased is a good mixture for 12 mm.",
                COMMON,
                40.0,
            ),
            Remedy(
                "fit.shoulder_slope",
                0.5,
                "Drop the shoulder tip, and raise the underarm where there is no sleeve",
                "front, back, facings",
                "Only where the shoulder itself stands up.",
                COMMON,
                24.0,
            ),
        ),
    ),
    Showing(
        "drags-to-bust",
        "Drag lines run to the bust; it is tight there",
        "How much is missing round the bust?",
        (
            Remedy(
                "fit.take_in",
                -0.5,
                "Let the side seams out, half of it at each, on both edges",
                "front, back; sleeve and lining follow",
                "For a little only: it lets the back out too.",
                COMMON,
                20.0,
            ),
            Remedy(
                "fit.bust",
                0.5,
                "More room over the bust, half on each half, with a dart",
                "front; dart, centre front length, waist",
                "Armhole, shoulder and neck keep their lengths; the side still fits the back.",
                "The New Dressmaker, Butterick 1921, ch. 4 (gored); the slash is common practice",
            ),
        ),
    ),
    Showing(
        "loose-over-bust",
        "It hangs loose over the bust",
        "How much is too much round the bust?",
        (
            Remedy(
                "fit.take_in",
                1.0,
                "Take the princess seams in over the bust, half of it at each",
                "front, side front",
                "Nothing above and below.",
                COMMON,
                40.0,
            ),
            Remedy(
                "fit.bust",
                -0.5,
                "Less room over the bust: the dart gets smaller, the centre shorter",
                "front; dart, centre front length",
                "It cannot go further than the dart is wide.",
                COMMON,
            ),
        ),
    ),
    Showing(
        "folds-above-back-waist",
        "Level folds lie above the back waist (sway back)",
        "How much is pinned out at the centre back?",
        (
            Remedy(
                "fit.wedge",
                1.0,
                "A wedge at the centre back to nothing at the side seam",
                "back; lining",
                "The centre back is no longer straight: it needs a seam, or a new straight line.",
                COMMON,
                length=True,
            ),
            Remedy(
                "fit.hem",
                -1.0,
                "Trim the top of the skirt at the centre back to nothing at the side",
                "back skirt, waistband stays",
                "Where there is a waist seam.",
                USDA,
                25.0,
                length=True,
            ),
            Remedy(
                "fit.lengthen",
                -1.0,
                "Fold the whole back out at the waist and carry the shift up to shoulder and armhole",
                "back; sleeve",
                "Keeps the grain.",
                "Liechty, Pottberg, Rasband: Fitting & Pattern Alteration, pp. 140–143",
                length=True,
            ),
        ),
    ),
    Showing(
        "tight-over-hip",
        "It is tight over the hip",
        "How much is missing round the hip?",
        (
            Remedy(
                "fit.take_in",
                -0.5,
                "Let both side seams out, half of it at each, shared by front and back",
                "front, back, lining, waistband where it reaches",
                "40 mm are 10 mm on each of four edges.",
                COMMON,
                50.0,
            ),
            Remedy(
                "fit.flare",
                0.25,
                "Slash from the hem to the waist and spread, a quarter on each of four panels",
                "front, back, hem",
                "The waist keeps its length.",
                COMMON,
            ),
            Remedy(
                "fit.dart_intake",
                0.25,
                "Let a little out of the waist darts",
                "front, back, waistband",
                "Only where the waist is tight too.",
                COMMON,
                20.0,
            ),
        ),
    ),
    Showing(
        "loose-at-waist",
        "It is too wide at the waist",
        "How much is pinned out round the waist?",
        (
            Remedy(
                "fit.dart_intake",
                0.25,
                "Widen the waist darts, a quarter at each of four",
                "front, back, waistband, facing",
                "A dart wider than 30 mm pokes; split it then.",
                COMMON,
                60.0,
            ),
            Remedy(
                "fit.take_in",
                0.5,
                "Take both side seams in at the waist, half of it at each, to nothing at underarm and hip",
                "front, back, lining",
                "",
                COMMON,
                50.0,
            ),
        ),
    ),
    Showing(
        "shoulder-tip-folds",
        "Folds run from the neck to the underarm (sloping shoulder)",
        "How much is pinned out at one shoulder tip?",
        (
            Remedy("", 1.0, "A shoulder pad of that thickness", "nothing", "", COMMON, 15.0, length=True),
            Remedy(
                "fit.shoulder_slope",
                1.0,
                "Lower the shoulder tip to nothing at the neck, and the underarm by as much",
                "front, back, facings; the sleeve stays",
                "The armhole keeps its length.",
                NEW_DRESSMAKER,
                length=True,
            ),
        ),
    ),
    Showing(
        "shoulder-tip-drags",
        "It drags from the shoulder tip (square shoulder)",
        "How much is missing at one shoulder tip?",
        (
            Remedy(
                "fit.shoulder_slope",
                -1.0,
                "Raise the shoulder tip to nothing at the neck, and the underarm by as much",
                "front, back, facings; the sleeve stays",
                "The armhole keeps its length.",
                NEW_DRESSMAKER,
                length=True,
            ),
        ),
    ),
    Showing(
        "tight-across-back",
        "It strains across the back",
        "How much is missing across the whole back?",
        (
            Remedy(
                "fit.broaden",
                0.5,
                "Swing the back out below the shoulder, half on each half",
                "back; the shoulder is eased or gets a dart",
                "The armhole keeps its length, so the sleeve stays.",
                COMMON,
                30.0,
            ),
            Remedy(
                "fit.take_in",
                -1.0,
                "Let the back's side out alone",
                "back, sleeve, lining",
                "Share it on the back's edge only.",
                COMMON,
                20.0,
            ),
        ),
    ),
    Showing(
        "front-sags",
        "The front sags below the bust, or the crosswise grain drops to the middle",
        "How much is lifted at the shoulder, at the neck end?",
        (
            Remedy(
                "fit.wedge",
                1.0,
                "Lift the front at the shoulder: a wedge at the neck to nothing at the armhole",
                "front, facing, collar",
                "More at the neck end, nothing at the tip; mark the armhole again.",
                USDA,
                25.0,
                length=True,
            ),
        ),
    ),
    Showing(
        "front-rides-up",
        "The hem rides up in front over the abdomen",
        "How much too short is it in front?",
        (
            Remedy(
                "fit.hem",
                1.0,
                "Raise the top of the front, to nothing at the side",
                "front; the waist keeps its length by letting the sides out",
                "At least 25 mm where it shows.",
                f"{NEW_DRESSMAKER}, ch. 5",
                length=True,
            ),
            Remedy(
                "fit.flare",
                0.5,
                "Slash from the hem to the waist in front and spread, half on each half",
                "front, hem",
                "Where it is tight as well as short.",
                COMMON,
            ),
        ),
    ),
    Showing(
        "sleeve-pulls",
        "The sleeve pulls at the cap, or no longer fits the armhole",
        "How long should the ease be?",
        (
            Remedy(
                "fit.sleeve_cap",
                1.0,
                "Fit the cap to the armhole as it is now",
                "sleeve, its lining",
                "25 to 38 mm for a jacket, 15 to 30 for a blouse, 0 to 15 for a shirt, none for knits.",
                "several textbooks, as quoted on teaching pages",
                38.0,
                length=True,
            ),
        ),
    ),
    Showing(
        "shoulder-seam-behind",
        "The shoulder seam lies behind the shoulder",
        "How far should it come forward?",
        (
            Remedy(
                "fit.move_seam",
                1.0,
                "Move the shoulder seam: what the back gains, the front loses",
                "front, back, facings; the sleeve's notch",
                "Turn the sleeve by as much.",
                COMMON,
                25.0,
                length=True,
            ),
        ),
    ),
    Showing(
        "too-short",
        "It is too short",
        "How much is missing?",
        (
            Remedy(
                "fit.hem",
                1.0,
                "Make the hem longer",
                "hems that hang together, lining, facings",
                "",
                COMMON,
                50.0,
                length=True,
            ),
            Remedy(
                "fit.lengthen",
                1.0,
                "Lengthen at a level line, on all pieces that it crosses",
                "all pieces that it crosses, facings, buttons",
                "Keeps waist and hip where they belong.",
                f"{NEW_DRESSMAKER}, ch. 3",
                length=True,
            ),
        ),
    ),
    Showing(
        "neck-tight",
        "The neck is tight",
        "How much lower at the centre?",
        (
            Remedy(
                "fit.opening",
                1.0,
                "Lower the neck, its direction at the ends kept",
                "front, back, facing, collar",
                "A closed neck goes over the head: head girth and 20 mm.",
                COMMON,
                40.0,
                length=True,
            ),
        ),
    ),
)
