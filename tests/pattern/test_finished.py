"""Finished measures and the tape's cross-check, on pieces whose numbers are plain arithmetic."""

from __future__ import annotations

from dataclasses import replace

import pytest

from eke.errors import BadInput, ChangeConflict
from eke.pattern.checking import check
from eke.pattern.finished import FinishedMeasure, finished_measures
from eke.pattern.model import CutOf, Dart, EdgeId, Mark, Pattern
from eke.pattern.taped import understood

from .samples import Story, bodice, darted, rectangle, seam


def lined(pattern: Pattern, piece: str, y: float, name: str) -> Pattern:
    found = pattern.piece(piece)
    xa, _, xb, _ = found.outline.bounds
    mark = Mark(f"{piece}-{name}", "balance", ((xa + 20.0, y), (xb - 30.0, y)), name)
    return pattern.with_piece(replace(found, marks=(*found.marks, mark)))


def measured(pattern: Pattern) -> dict[str, FinishedMeasure]:
    return {m.name: m for m in finished_measures(pattern)}


def halves() -> Pattern:
    return lined(lined(bodice(), "front", 80.0, "waist"), "back", 80.0, "Waist")


def differing(pattern: Pattern) -> list:
    return [f for f in check(pattern) if f.code.startswith("tape")]


def test_halves_on_the_fold_count_twice_beside_the_body() -> None:
    story = Story(halves())
    story.do("measure.set", name="waist girth", mm=900)
    found = measured(story.state)
    # two halves 240 mm wide: 4 × 240 round, 60 more than the body
    assert found["waist"].mm == pytest.approx(960.0)
    assert found["waist"].body == "waist girth"
    assert found["waist"].ease_mm == pytest.approx(60.0)
    assert [(s.name, s.times) for s in found["waist"].shares] == [("front", 2), ("back", 2)]
    assert found["hem of front and back"].mm == pytest.approx(960.0)
    assert found["centre of front"].mm == pytest.approx(320.0)
    assert found["side seam"].mm == pytest.approx(220.0)


def test_pairs_count_twice_linings_not_and_open_darts_are_shut() -> None:
    skirt = replace(
        darted(30.0, 200.0),
        darts=(Dart("d", EdgeId("leg-1"), EdgeId("leg-2")),),
        cuts=(CutOf(count=2, pairs=True), CutOf("lining", 2)),
    )
    pattern = lined(Pattern().with_piece(skirt), "skirt", 450.0, "hip")
    # the dart's opening 50 mm below the edge: 30 · (L cos − 50) / L cos, of four panels (two pairs)
    depth = (200.0**2 - 15.0**2) ** 0.5
    assert measured(pattern)["hip"].mm == pytest.approx(4 * (300.0 - 30.0 * (depth - 50.0) / depth))
    lining = replace(skirt, cuts=(CutOf("lining", 2),))
    assert measured(Pattern().with_piece(lining)) == {}


def test_one_sleeve_of_a_pair_is_measured_and_not_both() -> None:
    sleeve = replace(rectangle("sleeve", 320, 400), cuts=(CutOf(pairs=True),))
    pattern = lined(Pattern().with_piece(sleeve), "sleeve", 300.0, "upper arm")
    pattern = pattern.with_seam(
        seam("under", [("sleeve", "sleeve-left", True)], [("sleeve", "sleeve-right", False)])
    )
    found = measured(pattern)
    assert found["upper arm"].mm == pytest.approx(320.0)
    assert found["hem of sleeve"].mm == pytest.approx(320.0)


def test_a_waist_without_a_line_is_read_from_edges_and_the_eased_side_does_not_count() -> None:
    skirt, band = rectangle("skirt", 760, 500), rectangle("band", 740, 30, at=(900, 0))
    skirt = replace(
        skirt, edges=tuple(replace(e, name="waist" if e.id == "skirt-top" else e.name) for e in skirt.edges)
    )
    band = replace(
        band,
        edges=tuple(replace(e, name="waist", kind="seam") if e.id == "band-hem" else e for e in band.edges),
    )
    pattern = Pattern(measures={"waist girth": 720.0}).with_piece(skirt).with_piece(band)
    pattern = pattern.with_seam(
        seam("waist", [("skirt", "skirt-top", True)], [("band", "band-hem", False)], ease_mm=20.0)
    )
    found = measured(pattern)["waist"]
    assert (found.mm, found.ease_mm) == (pytest.approx(740.0), pytest.approx(20.0))


@pytest.mark.parametrize(
    ("name", "mm", "off"),
    [
        ("side seam", 220, 0.0),
        ("Side", 216, 4.0),
        ("side of front", 226, -6.0),
        ("half width at waist", 480, 0.0),
        ("half waist", 470, 10.0),
        ("waist round", 990, -30.0),
        ("half width at underarm", 470, 10.0),
        ("hem", 940, 20.0),
        ("half hem", 480, 0.0),
    ],
)
def test_points_of_measure_in_plain_words(name: str, mm: float, off: float) -> None:
    pattern = replace(halves(), taped={name: mm})
    assert understood(pattern, name) is not None
    found = differing(pattern)
    assert [round(f.amount, 3) for f in found][:1] == ([off] if off else [])


def test_the_piece_that_is_off_is_named_and_the_other_is_not() -> None:
    story = Story(bodice())
    story.do("corner.move", edge="front-side", end="end", to=[240.0, 228.0])
    story.do("measure.set", name="side seam", mm=220, of="garment")
    (found,) = differing(story.state)
    assert (found.severity, found.amount) == ("ask", pytest.approx(8.0))
    assert "front" in found.where
    assert "back" not in found.where
    assert "“front”" in found.sentence
    assert "8.0 mm too long" in found.sentence
    fix = found.fixes[0]
    story.do(fix.kind, **fix.params)
    assert differing(story.state) == []


@pytest.mark.parametrize(("taped", "severity"), [(218.1, None), (217.0, "note"), (215.0, "ask")])
def test_limits_of_short_lengths(taped: float, severity: str | None) -> None:
    # 2 mm under 250 mm (common practice)
    found = differing(replace(bodice(), taped={"side seam": taped}))
    assert {f.severity for f in found} == ({severity} if severity else set())


def test_limits_of_long_lengths_are_a_share() -> None:
    # 0.5 % above 250 mm (common practice): 960 mm may be 4.8 off
    assert differing(replace(halves(), taped={"waist round": 955.5})) == []
    assert [f.severity for f in differing(replace(halves(), taped={"waist round": 954.0}))] == ["note"]


def test_a_name_that_nothing_has_is_told_and_may_be_said() -> None:
    story = Story(halves())
    story.do("measure.taped", name="down the edge", mm=210)
    assert [f.code for f in differing(story.state)] == ["tape-unplaced"]
    story.do("measure.taped", name="down the edge", mm=210, edges=["front-side"])
    assert [(f.code, round(f.amount, 6)) for f in differing(story.state)] == [("tape-differs", 10.0)]
    story.do("measure.taped", name="down the edge", mm=225, at="waist", pieces=["front"], half=True)
    assert [round(f.amount, 6) for f in differing(story.state)] == [15.0]
    story.do("measure.drop", name="down the edge")
    assert differing(story.state) == []
    with pytest.raises(ChangeConflict):
        story.do("measure.drop", name="down the edge")


@pytest.mark.parametrize(
    "said",
    [
        {},
        {"name": "hem", "mm": "long"},
        {"name": "hem", "mm": -3},
        {"name": " ", "mm": 30},
        {"name": "hem", "mm": 30, "edges": "front-side"},
        {"name": "hem", "mm": 30, "half": "yes", "at": "hem"},
        {"name": "hem", "mm": 30, "at": "hem", "edges": ["front-side"]},
        {"name": "hem", "mm": 30, "pieces": ["front"]},
    ],
)
def test_nonsense_is_refused(said: dict) -> None:
    with pytest.raises(BadInput):
        Story(bodice()).do("measure.taped", **said)


def test_an_edge_that_is_gone_stops_nothing() -> None:
    story = Story(bodice())
    story.do("measure.taped", name="x", mm=210, edges=["front-side"])
    story.do("piece.drop", piece="front")
    assert [f for f in differing(story.state) if f.code == "tape-differs"] == []
    assert "centre of back" in measured(story.state)
