"""What a mock-up may show from the waist down, and in its length. See :mod:`eke.fit.remedies`."""

from __future__ import annotations

from typing import Final

from eke.fit.showing import COMMON, NEW_DRESSMAKER, USDA, Remedy, Showing

BELOW: Final[tuple[Showing, ...]] = (
    Showing(
        "folds-above-back-waist",
        "Level folds lie above the back waist (sway back)",
        "How much is pinned out at the centre back?",
        "the centre back, where the fold is deepest",
        (
            Remedy(
                "fit.wedge",
                1.0,
                "A wedge at the centre back to nothing at the side seam",
                "back; lining",
                "The centre back is no longer straight: it needs a seam, or a new straight line.",
                COMMON,
                length=True,
                way="level",
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
                way="top",
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
        "the side seam, at the height of the hip",
        (
            Remedy(
                "fit.take_in",
                -0.5,
                "Let both side seams out, half of it at each, shared by front and back",
                "front, back, lining, waistband where it reaches",
                "40 mm are 10 mm on each of four edges.",
                COMMON,
                50.0,
                way="seam-below",
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
                -0.25,
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
        "the side seam, at the waist",
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
                way="seam-here",
            ),
        ),
    ),
    Showing(
        "front-rides-up",
        "The hem rides up in front over the abdomen",
        "How much too short is it in front?",
        "the top of the front, at its middle",
        (
            Remedy(
                "fit.hem",
                1.0,
                "Raise the top of the front, to nothing at the side",
                "front; the waist keeps its length by letting the sides out",
                "At least 25 mm where it shows.",
                f"{NEW_DRESSMAKER}, ch. 5",
                length=True,
                way="top",
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
        "too-short",
        "It is too short",
        "How much is missing?",
        "the hem; or, to lengthen higher up, a side edge at that height",
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
                way="hem",
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
)
