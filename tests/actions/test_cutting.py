"""Cloth, the lay on it, the cut, offcuts, money, making up and what is printed: the rest of the chain."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon

from eke.actions import (
    cloths,
    fitting,
    found,
    history,
    laying,
    money,
    papers,
    patterns,
    projects,
    recipes,
    sheets,
)
from eke.actions.drawing import draw_answer, written
from eke.actions.room import Room, make_room
from eke.errors import BadInput, ChangeConflict, EkeError, NotFound
from eke.units import Money
from helpers import tunic

TUNIC, PROJECT = tunic.TUNIC, tunic.PROJECT
OUTER = ["outer"]


def shelve(room: Room, name: str, width: float = 900.0, length: float = 700.0, **said) -> None:
    words = {"grain_deg": 90.0, "washed": True} | said
    cloths.add_cloth(room, name, cloths.typed_outline("rectangle", [width, length]), **words)
    cloths.reserve_cloth(room, name, PROJECT)


def lay(room: Room, **more):
    return laying.lay_garment(room, TUNIC, roles=OUTER, seconds=None, passes=1, seed=1, **more)


@pytest.fixture
def laid(sewn: Room) -> Room:
    """A tunic laid on a blue cloth that was bought for 6 euros."""
    shelve(sewn, "blue")
    money.buy(sewn, "cloth", Money.parse("6", "EUR"), projects={PROJECT: "1"}, cloths={"blue": "1"})
    lay(sewn)
    return sewn


# ---------------------------------------------------------------- cloth


@pytest.mark.parametrize(
    ("shape", "measures", "area_mm2"),
    [
        ("rectangle", [1400, 2200], 1400 * 2200),
        ("round", [1600], np.pi * 800**2),
        ("half-round", [1600], np.pi * 800**2 / 2),
        ("l-shape", [900, 1200, 400, 500], 900 * 1200 - 400 * 500),
    ],
)
def test_typed_cloth_has_the_area_of_its_shape(shape: str, measures: list[float], area_mm2: float) -> None:
    assert Polygon(cloths.typed_outline(shape, measures)).area == pytest.approx(area_mm2, rel=2e-3)


@pytest.mark.parametrize(
    ("shape", "measures", "says"),
    [
        ("hexagon", [1], "one of rectangle"),
        ("rectangle", [1400], "2 measures in mm: width, length"),
        ("rectangle", [0, 100], "mm"),
        ("rectangle", [-5, 100], "mm"),
        ("rectangle", [float("nan"), 100], "mm"),
    ],
)
def test_cloth_that_cannot_be(room: Room, shape: str, measures: list[float], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        cloths.add_cloth(room, "odd", cloths.typed_outline(shape, measures))
    assert room.shelf().cloths == {}


def test_cloth_without_area(room: Room) -> None:
    with pytest.raises(BadInput):
        cloths.add_cloth(room, "thread", [(0, 0), (1000, 0), (500, 0)])
    assert room.shelf().cloths == {}


def test_cloth_from_a_photograph_brings_holes_stains_and_threads(room: Room) -> None:
    seen = tunic.photographed(room, "shelf", tunic.traced_cloth())
    found.take_cloth(room, seen.id, "1", "curtain", said={"origin": "flea market"})
    cloth = next(iter(room.shelf().cloths.values()))
    assert (len(cloth.holes), len(cloth.flaws), cloth.grain_deg) == (1, 1, 91.0)
    assert cloth.area_mm2 == pytest.approx(900 * 700 - 40 * 40)
    assert (cloth.origin, cloth.uncertainty_mm) == ("flea market", 2.0)
    with pytest.raises(NotFound, match="no cloth “7”"):
        found.take_cloth(room, seen.id, "7", "none")


def test_what_the_maker_says_of_the_threads_holds(room: Room) -> None:
    seen = tunic.photographed(room, "shelf", tunic.traced_cloth())
    found.take_cloth(room, seen.id, "1", "curtain", said={"grain_deg": 1.0})
    assert next(iter(room.shelf().cloths.values())).grain_deg == 1.0


def test_a_cloth_is_kept_for_a_project_and_let_go(sewn: Room) -> None:
    shelve(sewn, "blue")
    assert [c.name for c in cloths.cloths_of(sewn, PROJECT)] == ["blue"]
    cloths.release_cloth(sewn, "blue", PROJECT)
    assert cloths.cloths_of(sewn, PROJECT) == ()
    with pytest.raises(BadInput, match="No cloth is kept"):
        lay(sewn)
    with pytest.raises(NotFound, match="no cloth “green”"):
        cloths.reserve_cloth(sewn, "green", PROJECT)


# ---------------------------------------------------------------- the lay


def test_the_lay_lies_on_the_cloth_and_off_the_hole(sewn: Room) -> None:
    seen = tunic.photographed(sewn, "shelf", tunic.traced_cloth(1400.0, 800.0))
    found.take_cloth(sewn, seen.id, "1", "curtain", said={"grain_deg": 90.0, "washed": True})
    cloths.reserve_cloth(sewn, "curtain", PROJECT)
    plan = lay(sewn)
    assert plan.complete
    cloth = next(iter(sewn.shelf().cloths.values()))
    ground = Polygon(cloth.outline, cloth.holes)
    rings = [Polygon(one.outline) for one in plan.laid]
    for ring in rings:  # judged with shapely, not with the engine
        assert ground.buffer(1e-6).contains(ring)
        assert not any(ring.intersects(Polygon(f.polygon)) for f in cloth.flaws)
    for i, one in enumerate(rings):
        assert all(one.distance(other) > 0.0 for other in rings[i + 1 :])


def test_grain_runs_along_the_cloths_grain(sewn: Room) -> None:
    """Cut crosswise, a piece's length would lie across the cloth: warp is along +x here, +y on the piece."""
    shelve(sewn, "sideways", 1300.0, 520.0, grain_deg=0.0)
    plan = lay(sewn)
    assert plan.complete  # each is about 550 mm long and 430 mm wide: on 520 mm of width it lies along x only
    for one in plan.laid:
        along_x, along_y = np.ptp(np.array(one.outline), axis=0)
        assert along_x > 520.0 > along_y
    assert {round(one.turn_deg) % 180 for one in plan.laid} == {90}


def test_the_same_seed_gives_the_same_lay(laid: Room) -> None:
    first = laying.kept_plan(laid, TUNIC, OUTER)
    assert lay(laid).laid == first.laid


def test_a_plan_is_kept_as_it_was_made(laid: Room) -> None:
    plan = lay(laid)
    assert laying.kept_plan(laid, TUNIC, OUTER) == plan
    with pytest.raises(NotFound, match="not been laid"):
        laying.kept_plan(laid, TUNIC, ["lining"])


def test_too_little_cloth_is_an_honest_no_with_ways_out(sewn: Room) -> None:
    shelve(sewn, "scrap", 460.0, 560.0)
    plan = lay(sewn)
    assert not plan.complete
    assert plan.short_mm2 > 0
    with pytest.raises(BadInput, match="not complete"):
        laying.confirm_cut(sewn, TUNIC, OUTER)
    for way in laying.ways_to_save(sewn, TUNIC, OUTER):
        assert way.sentence.endswith(".")


def test_a_piece_larger_than_every_cloth_is_proved(sewn: Room) -> None:
    shelve(sewn, "narrow", 300.0, 2000.0)
    plan = lay(sewn)
    assert not plan.complete
    assert plan.proof
    assert len(plan.laid) < 2


def test_a_lay_goes_stale_with_the_pattern_and_holds_again_after_undo(laid: Room) -> None:
    plan = laying.kept_plan(laid, TUNIC, OUTER)
    assert laying.why_stale(laid, plan, OUTER) == ()
    fitting.take_in(laid, TUNIC, "side", [(0, 0), (150, 8), (350, 0)])
    assert laying.why_stale(laid, plan, OUTER)
    with pytest.raises(BadInput, match="no longer holds"):
        laying.confirm_cut(laid, TUNIC, OUTER)
    assert laid.shelf().cuts == {}
    history.take_back(laid, TUNIC)
    assert laying.why_stale(laid, plan, OUTER) == ()


def test_a_lay_goes_stale_with_its_cloth(laid: Room) -> None:
    plan = laying.kept_plan(laid, TUNIC, OUTER)
    corner = [(0, 0), (50, 0), (50, 50), (0, 50)]
    cloths.mark_flaw(laid, "blue", corner)
    assert laying.why_stale(laid, plan, OUTER)


def test_a_cloth_that_shrinks_is_washed_before_it_is_cut(sewn: Room) -> None:
    shelve(sewn, "wool", 1000.0, 800.0, washed=False, shrink_warp_percent=5.0, shrink_weft_percent=3.0)
    lay(sewn)
    with pytest.raises(BadInput, match="washed before"):
        laying.confirm_cut(sewn, TUNIC, OUTER)
    assert sewn.shelf().cuts == {}
    cloths.wash_cloth(sewn, "wool")
    cloth = next(iter(sewn.shelf().cloths.values()))
    width, length = np.ptp(np.array(cloth.outline), axis=0)
    assert (width, length) == (pytest.approx(970.0), pytest.approx(760.0))


# ---------------------------------------------------------------- the cut and the money


def test_a_cut_leaves_the_rest_of_the_cloth_and_its_worth(laid: Room) -> None:
    plan = laying.kept_plan(laid, TUNIC, OUTER)
    cloth = next(iter(laid.shelf().cloths.values()))
    cut = shapely.union_all([Polygon(one.outline) for one in plan.laid])
    laying.confirm_cut(laid, TUNIC, OUTER)
    offcuts = list(laid.shelf().cloths.values())
    assert offcuts
    assert {c.parent for c in offcuts} == {cloth.id}
    for one in offcuts:
        shape = Polygon(one.outline, one.holes)
        assert shape.intersection(cut).area == pytest.approx(0.0, abs=1.0)
        assert Polygon(cloth.outline).buffer(1e-6).contains(shape)
    left = sum(Polygon(c.outline, c.holes).area for c in offcuts)
    # what is neither piece nor offcut is narrow waste between the pieces
    assert left + cut.area <= cloth.area_mm2 + 1.0
    assert left + cut.area > 0.85 * cloth.area_mm2
    report = money.ledger_report(laid, PROJECT)
    assert (str(report.account.spent), str(report.account.left)) == ("6.00 EUR", "6.00 EUR")
    assert report.garments[0].used.minor > 0
    # nothing is lost: what the garment used and what is left are what was paid
    assert report.garments[0].used + report.left_on_shelf == Money(600, "EUR")


def test_a_cut_is_taken_back_whole(laid: Room) -> None:
    shelf = laid.shelf()
    worth = money.ledger_report(laid, PROJECT)
    laying.confirm_cut(laid, TUNIC, OUTER)
    with pytest.raises(EkeError):
        laying.confirm_cut(laid, TUNIC, OUTER)
    with pytest.raises(ChangeConflict, match="has been cut for “Tunic”"):
        cloths.reserve_cloth(laid, "blue", PROJECT)
    history.take_back(laid)
    assert laid.shelf() == shelf
    assert money.ledger_report(laid, PROJECT) == worth
    history.do_again(laid)
    assert len(laid.shelf().cuts) == 1


def test_a_cut_is_not_taken_back_once_an_offcut_was_used(laid: Room) -> None:
    cut = laying.confirm_cut(laid, TUNIC, OUTER)
    offcut = max(laid.shelf().cloths.values(), key=lambda c: c.area_mm2)
    projects.enter_garment(laid, PROJECT, "Pocket")
    square = (((0, 0), (60, 0)), ((60, 0), (60, 60)), ((60, 60), (0, 60)), ((0, 60), (0, 0)))
    patterns.change(laid, "Pocket", "trace.add", tunic.trace_params(square, "pocket"))
    cloths.reserve_cloth(laid, offcut.name, PROJECT)
    laying.lay_garment(laid, "Pocket", roles=OUTER, cloths=[offcut.name], seconds=None, passes=1)
    laying.confirm_cut(laid, "Pocket", OUTER)
    before = laid.shelf()
    with pytest.raises(ChangeConflict) as refused:
        laid.change_workroom("cut.take_back", {"cut": cut.id})
    assert "Pocket" in refused.value.message
    with pytest.raises(ChangeConflict):
        history.switch_change(laid, cut.id, False)
    assert laid.shelf() == before


def test_purchases_in_other_currencies_count_at_the_typed_rate(sewn: Room) -> None:
    money.buy(sewn, "yarn", Money.parse("20", "SEK"), projects={PROJECT: "1"}, rate=("EUR", "0.0875"))
    money.buy(sewn, "ribbon", Money.parse("3", "GBP"), projects={PROJECT: "1"})
    report = money.ledger_report(sewn, PROJECT)
    assert report.account.spent == Money(175, "EUR")
    assert len(report.account.without_rate) == 1  # named, not guessed
    with pytest.raises(BadInput, match="not a currency code"):
        Money.parse("3", "XXQ")


def test_a_purchase_is_shared_exactly(sewn: Room) -> None:
    projects.start_project(sewn, "Winter", budget="5")
    money.buy(sewn, "thread", Money.parse("1.00", "EUR"), projects={PROJECT: "2", "Winter": "1"})
    shares = [money.ledger_report(sewn, name).account.spent for name in (PROJECT, "Winter")]
    assert shares[0] + shares[1] == Money(100, "EUR")
    assert shares[0].minor in (66, 67)


def test_notions_are_put_on_the_shelf_and_used(sewn: Room) -> None:
    money.add_notion(sewn, "buttons", "6", price=Money.parse("3", "EUR"))
    money.use_notion(sewn, "buttons", "2", TUNIC)
    assert money.ledger_report(sewn, PROJECT).garments[0].used == Money(100, "EUR")
    with pytest.raises(EkeError):
        money.use_notion(sewn, "buttons", "5", TUNIC)  # four are left
    with pytest.raises(BadInput, match="no single notion"):
        money.use_notion(sewn, "hooks", "1", TUNIC)


# ---------------------------------------------------------------- making up and paper


def test_making_up_a_childs_garment_has_cautions_and_every_seam(sewn: Room) -> None:
    made = sheets.making_up(sewn, TUNIC)
    assert any("EN 14682" in c.source for c in made.cautions)
    text = " ".join(t.sentence for t in made.order.tasks)
    assert "side" in text
    assert "shoulder" in text
    assert any("thread" in n.name for n in made.needs)


@pytest.mark.parametrize("suffix", [".pdf", ".svg", ".png"])
def test_every_sheet_is_written_in_every_format(laid: Room, suffix: str) -> None:
    pages = papers.lay_pages(laid, TUNIC, roles=OUTER)  # type: ignore[arg-type]
    data = written(pages, suffix, title="Lay")
    assert (
        data.startswith({".pdf": b"%PDF", ".svg": b"<?xml", ".png": b"\x89PNG"}[suffix])
        or b"<svg" in data[:200]
    )


def test_a_format_that_is_not_known(laid: Room) -> None:
    with pytest.raises(BadInput):
        written(papers.pattern_pages(laid, TUNIC), ".doc", title="x")


def test_sheets_for_the_table(laid: Room) -> None:
    recipes.add_recipe(laid, TUNIC, "facing", "neck", edges=["front.neck"], params={"width_mm": 40.0})
    done = fitting.take_in(laid, TUNIC, "side", [(0, 0), (150, 8), (350, 0)], reason="wide")
    for pages in (
        papers.pattern_pages(laid, TUNIC),
        (papers.whole_pattern_page(laid, TUNIC),),
        papers.pattern_pages(laid, TUNIC, "letter", only=["front"]),
        sheets.cutting_pages(laid, TUNIC),
        sheets.order_pages(laid, TUNIC),
        sheets.ledger_pages(laid, PROJECT),
        sheets.ruler_step_pages(laid, TUNIC, done.id),
    ):
        assert pages
        assert written(pages, ".pdf", title="x").startswith(b"%PDF")
    with pytest.raises(NotFound, match="no single piece “sleeve”"):
        papers.pattern_pages(laid, TUNIC, only=["sleeve"])


def test_the_journal_tells_changes_cloth_and_money_with_its_pictures(room: Room) -> None:
    tunic.start_tunic(room)
    shelve(room, "blue")
    fitting.take_in(room, TUNIC, "side", [(0, 0), (150, 8), (350, 0)])
    undone = fitting.take_in(room, TUNIC, "shoulder", [(0, 0), (40, 4)])
    history.take_back(room, TUNIC)
    seen = tunic.photographed(room, "shelf", tunic.traced_cloth())
    found.take_cloth(room, seen.id, "1", "curtain")
    cloths.reserve_cloth(room, "curtain", PROJECT)
    journal, pictures = sheets.journal_of(room, PROJECT)
    assert len(pictures) == 1
    assert [c.name for c in journal.cloths] == ["blue", "curtain"]
    assert any("Took in side" in line for line in journal.changes)
    assert not any("shoulder" in line and "Took in" in line for line in journal.changes), undone.sentence
    pages, pictures = sheets.journal_pages(room, PROJECT)
    assert written(pages, ".pdf", title="x", pictures=pictures).startswith(b"%PDF")


def test_the_drawing_of_an_answer() -> None:
    square = [[0, 0], [100, 0], [100, 100], [0, 100]]
    result = laying.lay_problem(
        {
            "format": "nesting-case-1",
            "kind": "containers",
            "name": "two squares",
            "cloths": [{"id": "A", "outline": [[0, 0], [300, 0], [300, 150], [0, 150], [0, 0]], "holes": []}],
            "pieces": [{"id": "s", "polygon": [*square, square[0]], "demand": 2, "rotations": [0]}],
        },
        passes=1,
    )
    assert result.complete
    assert draw_answer(result, ".svg").count(b"<path") >= 3


def test_a_lay_survives_backup(laid: Room, tmp_path) -> None:
    projects.backup(laid, tmp_path / "b.zip")
    projects.restore(tmp_path / "b.zip", tmp_path / "again")
    plan = laying.kept_plan(laid, TUNIC, OUTER)
    from eke.actions.room import open_room

    with open_room(tmp_path / "again") as again:
        assert laying.kept_plan(again, TUNIC, OUTER) == plan
        assert (
            laying.confirm_cut(again, TUNIC, OUTER).sentence
            == laying.confirm_cut(laid, TUNIC, OUTER).sentence
        )


def test_a_second_room_knows_nothing_of_the_first(laid: Room, tmp_path) -> None:
    with make_room(tmp_path / "other") as other, pytest.raises(NotFound):
        laying.kept_plan(other, TUNIC, OUTER)


def test_a_cut_is_not_noted_when_another_window_changes_what_it_rests_on(laid: Room, monkeypatch) -> None:
    asked = laying.still_to_wash

    def meanwhile(room, plan):
        cloths.mark_flaw(room, "blue", [(0, 0), (50, 0), (50, 50)], "stain", 0)
        return asked(room, plan)

    monkeypatch.setattr(laying, "still_to_wash", meanwhile)
    with pytest.raises(ChangeConflict, match="another window"):
        laying.confirm_cut(laid, TUNIC, OUTER)
    assert not laid.shelf().cuts
