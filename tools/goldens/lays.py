"""Lays: whether a piece may lie somewhere, as the exact check of a lay says (:func:`eke.cutting.check_lay`)."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from typing import Any

from shapely.geometry import LineString, Polygon
from tools.goldens.polygons import star

from eke.cloth import Cloth, Flaw
from eke.cutting import CutPiece, Gaps, Laid, check_lay
from eke.cutting.door import placed

Ring = tuple[tuple[float, float], ...]

UNSURE_MM = 0.03
"""Random placements whose verdict hangs on less than this are left out: the exact check has tolerances."""
UNSURE_MM2 = 1.0
"""Or on less than this area, where no gap is kept."""
NEAR_MM = 0.05
"""The near-touching cases lie this much inside or outside the gap that must be kept."""


def _ring(points: Sequence[Sequence[float]]) -> Ring:
    return tuple((float(x), float(y)) for x, y in points)


def _curtain() -> Cloth:
    """A curtain that has been cut into, with a burn hole, a worn hole and two stains."""
    outline = _ring(
        [
            (0, 0),
            (900, -12),
            (1180, 10),
            (1176, 640),
            (840, 652),
            (832, 980),
            (520, 1010),
            (410, 700),
            (8, 720),
        ]
    )
    hole = _ring([(300, 300), (352, 296), (368, 330), (340, 372), (301, 360)])
    worn = _ring([(1000, 100), (1040, 110), (1030, 150), (990, 140)])
    flaws = (
        Flaw("stain", _ring([(600, 380), (690, 372), (700, 440), (612, 452)]), "stain", 1),
        Flaw("faded", _ring([(40, 40), (180, 40), (180, 160), (40, 160)]), "fading", 2),
    )
    return Cloth(
        "curtain", "curtain", outline, (hole, worn), flaws, grain_deg=90.0, washed=True, same_face=True
    )


def _round_cloth() -> Cloth:
    """A round tablecloth with a burn."""
    outline = _ring(
        [
            (600 + 600 * math.cos(a), 600 + 600 * math.sin(a))
            for a in [2 * math.pi * i / 96 for i in range(96)]
        ]
    )
    hole = _ring([(500, 640), (540, 630), (560, 680), (510, 690)])
    return Cloth("round", "tablecloth", outline, (hole,), (), grain_deg=90.0, washed=True, same_face=True)


def _pieces() -> dict[str, CutPiece]:
    rng = random.Random(77)
    shapes = {
        "flag": _ring([(0, 0), (120, 0), (120, 90), (60, 90), (40, 260), (0, 300)]),
        "yoke": _ring([(0, 0), (220, 0), (220, 60), (150, 70), (110, 30), (70, 70), (0, 60)]),
        "strip": _ring([(0, 0), (45, 0), (45, 380), (0, 380)]),
        "star": _ring(star(rng, 17, 110.0)),
        "sleeve": _ring(
            [(-90, 0), (90, 0), (125, 210)]
            + [
                (125 * math.cos(math.radians(a)), 210 + 80 * math.sin(math.radians(a)))
                for a in range(10, 171, 10)
            ]
            + [(-125, 210)]
        ),
    }
    return {
        name: CutPiece(
            name, name, name, "outer", ring, grain="any", least_quality=2 if name == "strip" else 3
        )
        for name, ring in shapes.items()
    }


Place = tuple[float, float, float, bool]
"""Turn, x, y, mirrored."""


def _laid(piece: CutPiece, cloth: Cloth, at: Place) -> Laid:
    turn, x, y, mirrored = at
    return Laid(
        piece.id,
        piece.name,
        cloth.id,
        turn,
        x,
        y,
        mirrored,
        placed(piece.outline, turn, x, y, mirrored=mirrored),
    )


def _verdict(
    mover: CutPiece, at: Place, others: Sequence[Laid], listed: Sequence[CutPiece], cloth: Cloth, gaps: Gaps
) -> dict[str, Any]:
    """What the exact check says of one piece among others that lie well."""
    lay = [_laid(mover, cloth, at), *others]
    faults = check_lay(lay, [mover, *listed], [cloth], gaps=gaps)
    hit = sorted({p for f in faults for p in f.pieces if f.kind in ("overlap", "gap") and p != mover.id})
    return {
        "free": not faults,
        "pieces": hit,
        "ground": any(f.kind in ("outside", "gap") and f.pieces == (mover.id,) for f in faults),
        "flaw": any(f.kind == "quality" for f in faults),
    }


def _sure(
    mover: CutPiece, at: Place, others: Sequence[Laid], listed: Sequence[CutPiece], cloth: Cloth, gaps: Gaps
) -> dict[str, Any] | None:
    """The verdict, or nothing where it hangs on hundredths of a millimetre."""
    here = _verdict(mover, at, others, listed, cloth, gaps)
    outline = Polygon(_laid(mover, cloth, at).outline)
    edges = [Polygon(flaw.polygon).exterior for flaw in cloth.flaws] + [Polygon(cloth.outline).exterior]
    limits: list[tuple[LineString, float]] = [(edges[-1], gaps.edge_mm), *((e, 0.0) for e in edges[:-1])]
    limits += [(LineString([*h, h[0]]), gaps.hole_mm) for h in cloth.holes]
    limits += [(Polygon(o.outline).exterior, gaps.pieces_mm) for o in others]
    for line, gap in limits:
        away = outline.exterior.distance(line)
        if away > 0.0 or gap > 0.0:
            unsure = abs(away - gap) <= UNSURE_MM
        else:
            # they cross: by how much on both sides?
            common = outline.intersection(Polygon(line)).area
            unsure = min(common, outline.area - common) < UNSURE_MM2
        if unsure:
            return None
    return here


def _case(
    name: str, cloth: Cloth, gaps: Gaps, lay: dict[str, Place], tries: int, seed: int
) -> dict[str, Any]:
    pieces = _pieces()
    rng = random.Random(seed)
    others = [_laid(pieces[p], cloth, at) for p, at in lay.items()]
    listed = [pieces[p] for p in lay]
    wrong = check_lay(others, listed, [cloth], gaps=gaps)
    if wrong:
        raise ValueError(f"The lay of {name} is not sound: {wrong[0].sentence}")
    left, bottom, right, top = cloth.polygon.bounds
    rows = []
    for piece_id in pieces:
        if piece_id in lay:
            continue
        mover = pieces[piece_id]
        for _ in range(tries):
            at = (
                rng.choice([0.0, 180.0, 90.0, round(rng.uniform(0, 360), 2)]),
                round(rng.uniform(left - 60, right + 60), 3),
                round(rng.uniform(bottom - 60, top + 60), 3),
                rng.random() < 0.3,
            )
            said = _sure(mover, at, others, listed, cloth, gaps)
            if said is not None:
                rows.append(_row(mover, at, said))
    return {
        "name": name,
        "cloth": {
            "outline": [list(p) for p in cloth.outline],
            "holes": [[list(p) for p in h] for h in cloth.holes],
            "flaws": [
                {"id": f.id, "polygon": [list(p) for p in f.polygon], "quality": int(f.quality)}
                for f in cloth.flaws
            ],
        },
        "gaps": {"pieces_mm": gaps.pieces_mm, "edge_mm": gaps.edge_mm, "hole_mm": gaps.hole_mm},
        "laid": [{"id": o.piece, "outline": [list(p) for p in o.outline]} for o in others],
        "tries": rows,
    }


def _row(mover: CutPiece, at: Place, said: dict[str, Any]) -> dict[str, Any]:
    turn, x, y, mirrored = at
    return {"mover": mover.id, "turn_deg": turn, "x_mm": x, "y_mm": y, "mirrored": mirrored, **said}


def _near(gaps: Gaps, turn_deg: float) -> list[dict[str, Any]]:
    """A strip beside a side of a flag, the edge of the cloth and a hole, a twentieth within and beyond the gap.

    All is turned by ``turn_deg`` together, so that nothing is upright.
    """
    rows = []
    pieces = _pieces()
    strip, flag = pieces["strip"], pieces["flag"]

    def turned(ring: Sequence[tuple[float, float]]) -> Ring:
        return placed(tuple(ring), turn_deg, 0.0, 0.0)

    outline = turned([(0.0, 0.0), (700.0, 0.0), (700.0, 600.0), (0.0, 600.0)])
    hole = turned([(500.0, 200.0), (560.0, 200.0), (560.0, 260.0), (500.0, 260.0)])
    stain = Flaw(
        "stain", turned([(300.0, 450.0), (360.0, 450.0), (360.0, 500.0), (300.0, 500.0)]), "stain", 1
    )
    cloth = Cloth("c", "cloth", outline, (hole,), (stain,), grain_deg=90.0, washed=True, same_face=True)
    flag_at: Place = (turn_deg, *placed(((150.0, 100.0),), turn_deg, 0.0, 0.0)[0], False)
    lain = _laid(flag, cloth, flag_at)
    # the strip is 45 wide, its left side at x: the flag's right side lies at 270 up to y 190
    beside = {
        "flag": (270.0 + gaps.pieces_mm, 0.0 - 195.0, 1),
        "edge": (700.0 - 45.0 - gaps.edge_mm, 100.0, -1),
        "hole": (500.0 - 45.0 - gaps.hole_mm, 40.0, -1),
        "corner of the hole": (560.0 + gaps.hole_mm / math.sqrt(2), 260.0 + gaps.hole_mm / math.sqrt(2), 0),
        "stain": (360.0, 300.0 - 100.0, 1),
    }
    for what, (x, y, sign) in beside.items():
        base_y = y if what != "flag" else 10.0
        for off in (-NEAR_MM, NEAR_MM):
            dx = off * sign if sign else off / math.sqrt(2)
            dy = 0.0 if sign else off / math.sqrt(2)
            px, py = placed(((x + dx, base_y + dy),), turn_deg, 0.0, 0.0)[0]
            at: Place = (turn_deg, px, py, False)
            mover = (
                strip
                if what != "stain"
                else CutPiece("strip", "strip", "strip", "outer", strip.outline, grain="any", least_quality=3)
            )
            if what == "corner of the hole":
                mover = CutPiece(
                    "strip",
                    "strip",
                    "strip",
                    "outer",
                    _ring([(0, 0), (45, 0), (45, 200), (0, 200)]),
                    grain="any",
                    least_quality=2,
                )
            said = _verdict(mover, at, [lain], [flag], cloth, gaps)
            if off < 0 and said["free"]:
                continue  # a corner over a corner by so little area is within the tolerance of the exact check
            rows.append(
                {
                    "beside": what,
                    "within_gap": off < 0,
                    "ring": [list(p) for p in mover.outline],
                    "least_quality": int(mover.least_quality),
                    "turn_deg": at[0],
                    "x_mm": at[1],
                    "y_mm": at[2],
                    "mirrored": at[3],
                    **said,
                }
            )
    return [
        {
            "turn_deg": turn_deg,
            "cloth": {
                "outline": [list(p) for p in cloth.outline],
                "holes": [[list(p) for p in h] for h in cloth.holes],
                "flaws": [{"id": "stain", "polygon": [list(p) for p in stain.polygon], "quality": 1}],
            },
            "gaps": {"pieces_mm": gaps.pieces_mm, "edge_mm": gaps.edge_mm, "hole_mm": gaps.hole_mm},
            "laid": [{"id": "flag", "outline": [list(p) for p in lain.outline]}],
            "tries": rows,
        }
    ]


def make() -> Any:
    """Return the golden."""
    curtain, table = _curtain(), _round_cloth()
    usual, close, wide = Gaps(), Gaps(0.0, 0.0, 0.0), Gaps(5.0, 8.0, 12.0)
    on_curtain: dict[str, Place] = {"flag": (0.0, 430.0, 30.0, False), "yoke": (90.0, 820.0, 300.0, False)}
    on_table: dict[str, Place] = {"star": (37.0, 300.0, 400.0, True), "sleeve": (180.0, 780.0, 900.0, False)}
    cases = [
        _case("the curtain with the usual gaps", curtain, usual, on_curtain, 60, 1),
        _case("the curtain with nothing between", curtain, close, on_curtain, 40, 2),
        _case("the curtain with wide gaps", curtain, wide, on_curtain, 40, 3),
        _case("the round tablecloth", table, usual, on_table, 60, 4),
    ]
    near = [row for turn in (0.0, 31.0, 118.7) for gaps in (usual, wide, close) for row in _near(gaps, turn)]
    return {
        "format": "eke-golden-lays-1",
        "unit": "mm",
        "pieces": {
            name: {"ring": [list(p) for p in piece.outline], "least_quality": int(piece.least_quality)}
            for name, piece in _pieces().items()
        },
        "cases": cases,
        "near": near,
    }
