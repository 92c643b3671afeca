"""The shelf: reservations, cuts, offcuts, and money that always adds up."""

from fractions import Fraction

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from shapely.geometry import Polygon, box

from eke.cloth import Cloth, Flaw, rectangle
from eke.cloth.cuts import confirm_cut, take_back_cut
from eke.cloth.record import cloth_from_json, cloth_to_json
from eke.cloth.shelf import Shelf
from eke.cloth.shelf_changes import (
    add_cloth,
    add_notion,
    describe_cloth,
    discard_cloth,
    enter_garment,
    mark_flaw,
    record_purchase,
    release_cloth,
    reserve_cloth,
    set_budget,
    start_project,
    strike_purchase,
    use_notion,
    wash_cloth,
)
from eke.errors import BadInput, ChangeConflict
from eke.units import Money


def new_id(parent: str, change: str, n: int) -> str:
    return f"{parent}/{change}.{n}"


def workroom() -> Shelf:
    shelf = Shelf()
    for project, garment in (("pinafore", "pinafore"), ("apron", "apron")):
        shelf = start_project(shelf, {"id": project, "name": f"The {project}"})
        shelf = enter_garment(shelf, {"id": f"g-{garment}", "name": garment, "project": project})
    for id_ in ("c1", "c2"):
        cloth = cloth_to_json(Cloth(id_, f"curtain {id_}", rectangle(1300, 2000), grain_deg=90))
        shelf = add_cloth(shelf, {"cloth": cloth})
    return record_purchase(
        shelf,
        {
            "id": "p1",
            "what": "two curtains",
            "paid": {"amount": "8.01", "currency": "EUR"},
            "on": "2026-03-14",
            "projects": {"pinafore": 3, "apron": 1},
            "items": {"c1": 1, "c2": 1},
        },
    )


def cut_params(garment="g-pinafore", cloth="c1", *boxes):
    boxes = boxes or ((0, 0, 600, 900), (610, 0, 1200, 900))
    placements = [
        {
            "piece": f"p{i}",
            "name": f"piece {i}",
            "cloth": cloth,
            "outline": list(box(*b).exterior.coords)[:-1],
        }
        for i, b in enumerate(boxes)
    ]
    return {"garment": garment, "revision": "r7", "placements": placements}


def cut(shelf, params, change_id="k1"):
    return confirm_cut(shelf, params, change_id, new_id)


def units_add_up(shelf: Shelf) -> None:
    for item in shelf.ledger.items.values():
        if item.id in shelf.notions:
            continue
        held = sum(h.units for h in shelf.holdings.values() if h.item == item.id)
        used = sum(u.amount for u in shelf.ledger.uses if u.item == item.id)
        assert held + used == item.amount


def test_a_cut_turns_the_rest_into_offcuts_and_the_money_follows():
    before = reserve_cloth(workroom(), {"cloth": "c1", "project": "pinafore"})
    after = cut(before, cut_params())
    (offcut,) = [c for c in after.cloths.values() if c.parent == "c1"]
    assert "c1" not in after.cloths
    assert offcut.grain_deg == 90
    # 1 mm of kerf, and a strip of 10 mm between the pieces that is too narrow to keep
    assert offcut.area_mm2 == pytest.approx(1300 * 2000 - 1200 * 901 - 901, rel=2e-3)
    confirmed = after.cuts["k1"]
    assert (confirmed.garment, confirmed.revision) == ("g-pinafore", "r7")
    assert confirmed.cut_mm2 + confirmed.waste_mm2 + offcut.area_mm2 == pytest.approx(1300 * 2000)
    units_add_up(after)
    used, left = after.ledger.used_by("g-pinafore", "EUR"), after.ledger.left_worth(["c1", "c2"], "EUR")
    assert used + left == Money.parse("8.01", "EUR")
    # the first curtain bears 4.01 of the 8.01
    assert used.minor == pytest.approx(401 * (2_600_000 - offcut.area_mm2) / 2_600_000, abs=1)
    assert after.ledger.account("pinafore").spent == Money(601, "EUR")


def test_taking_the_cut_back_gives_the_same_workroom_again():
    before = reserve_cloth(workroom(), {"cloth": "c1", "project": "pinafore"})
    assert take_back_cut(cut(before, cut_params()), {"cut": "k1"}) == before


def test_a_flaw_found_on_an_offcut_is_kept_when_the_cut_is_taken_back():
    after = cut(workroom(), cut_params())
    offcut = next(iter(after.cuts["k1"].offcuts))
    stain = {"id": "s", "polygon": [[100, 1500], [200, 1500], [200, 1600]], "kind": "stain", "quality": 1}
    back = take_back_cut(mark_flaw(after, {"cloth": offcut, "flaw": stain}), {"cut": "k1"})
    assert [flaw.id for flaw in back.cloths["c1"].flaws] == ["s"]


def test_a_cut_whose_offcut_was_used_is_not_taken_back_and_the_names_are_said():
    after = cut(workroom(), cut_params())
    (offcut,) = after.cuts["k1"].offcuts
    again = cut(after, cut_params("g-apron", offcut, (100, 1000, 500, 1500)), "k2")
    with pytest.raises(ChangeConflict, match=r"cut for “pinafore”.*curtain c1, offcut 1.*for “apron”"):
        take_back_cut(again, {"cut": "k1"})
    # in the other order it works
    assert take_back_cut(take_back_cut(again, {"cut": "k2"}), {"cut": "k1"}) == workroom()
    kept = reserve_cloth(after, {"cloth": offcut, "project": "apron"})
    with pytest.raises(ChangeConflict, match="kept for “The apron”"):
        take_back_cut(kept, {"cut": "k1"})
    with pytest.raises(ChangeConflict, match="left the shelf"):
        take_back_cut(discard_cloth(after, {"cloth": offcut}), {"cut": "k1"})
    with pytest.raises(ChangeConflict, match="no cut “k9”"):
        take_back_cut(after, {"cut": "k9"})


def test_a_cloth_is_kept_for_one_project_or_parted():
    shelf = reserve_cloth(workroom(), {"cloth": "c1", "project": "pinafore", "part": rectangle(1300, 1000)})
    with pytest.raises(ChangeConflict, match="has a part of it kept for “The pinafore”"):
        reserve_cloth(shelf, {"cloth": "c1", "project": "apron"})
    upper = [[0, 1000], [1300, 1000], [1300, 2000], [0, 2000]]
    shelf = reserve_cloth(shelf, {"cloth": "c1", "project": "apron", "part": upper})
    assert [c.id for c in shelf.cloths_for("apron")] == ["c1"]
    with pytest.raises(ChangeConflict, match="lies on the part of “curtain c1” that is kept for “The apron”"):
        cut(shelf, cut_params("g-pinafore", "c1", (0, 900, 300, 1200)))
    after = cut(shelf, cut_params())
    # the other project's part goes with the offcut; one's own is given back
    assert [r.project for r in after.reservations] == ["apron"]
    assert take_back_cut(after, {"cut": "k1"}) == shelf
    shelf = release_cloth(shelf, {"cloth": "c1", "project": "apron"})
    with pytest.raises(ChangeConflict, match="not kept for"):
        release_cloth(shelf, {"cloth": "c1", "project": "apron"})


def test_another_projects_cloth_is_not_cut():
    shelf = reserve_cloth(workroom(), {"cloth": "c1", "project": "apron"})
    with pytest.raises(ChangeConflict, match="kept for “The apron”"):
        cut(shelf, cut_params())
    with pytest.raises(ChangeConflict, match="is kept for “The apron”"):
        reserve_cloth(shelf, {"cloth": "c1", "project": "pinafore"})
    with pytest.raises(ChangeConflict, match="kept for"):
        discard_cloth(shelf, {"cloth": "c1"})


def test_a_cloth_that_was_cut_is_gone_and_its_offcuts_are_named():
    after = cut(workroom(), cut_params())
    with pytest.raises(ChangeConflict, match="has been cut for “pinafore”") as gone:
        reserve_cloth(after, {"cloth": "c1", "project": "apron"})
    assert gone.value.data["offcuts"] == after.cuts["k1"].offcuts
    with pytest.raises(ChangeConflict, match="no cloth"):
        reserve_cloth(after, {"cloth": "c9", "project": "apron"})


def test_washing_shrinks_the_cloth_but_not_its_money():
    shelf = describe_cloth(
        workroom(), {"cloth": "c1", "said": {"shrink_warp_percent": 6, "shrink_weft_percent": 2.5}}
    )
    after = wash_cloth(shelf, {"cloth": "c1"})
    assert after.cloths["c1"].size_mm == pytest.approx((1300 * 0.975, 2000 * 0.94))
    units_add_up(after)
    with pytest.raises(ChangeConflict, match="washed already"):
        wash_cloth(after, {"cloth": "c1"})


def test_notions_are_used_up_and_paid_for():
    price = {"amount": "2.00", "currency": "EUR"}
    shelf = add_notion(
        workroom(), {"id": "b", "name": "wooden buttons", "amount": 6, "price": price, "diameter_mm": 20.0}
    )
    shelf = use_notion(shelf, {"notion": "b", "garment": "g-pinafore", "amount": 4}, "u1")
    assert shelf.notions["b"].amount == Fraction(2)
    assert shelf.ledger.used_by("g-pinafore", "EUR") == Money(133, "EUR")
    with pytest.raises(BadInput, match="there are 2 left"):
        use_notion(shelf, {"notion": "b", "garment": "g-pinafore", "amount": 3}, "u2")


def test_a_purchase_can_be_struck_out_and_a_budget_set():
    shelf = set_budget(workroom(), {"project": "pinafore", "amount": {"amount": "12", "currency": "EUR"}})
    assert shelf.ledger.account("pinafore").left == Money(599, "EUR")
    shelf = strike_purchase(shelf, {"purchase": "p1"})
    assert shelf.ledger.account("pinafore").left == Money(1200, "EUR")


@pytest.mark.parametrize(
    ("change", "kind", "says"),
    [
        (lambda s: start_project(s, {"id": "pinafore", "name": "x"}), ChangeConflict, "already a project"),
        (lambda s: start_project(s, {"id": "x", "name": " "}), BadInput, "needs its name"),
        (lambda s: enter_garment(s, {"id": "g-apron", "name": "x", "project": "pinafore"}), ChangeConflict, "already has"),
        (lambda s: enter_garment(s, {"id": "x", "name": "x", "project": "nope"}), ChangeConflict, "no project"),
        (lambda s: add_cloth(s, {"cloth": cloth_to_json(s.cloths["c1"])}), ChangeConflict, "already a cloth"),
        (lambda s: add_cloth(s, {"cloth": {"id": "n", "name": "n", "outline": []}}), BadInput, "0 corners"),
        (lambda s: add_cloth(s, {"cloth": {"id": "n", "name": "n", "colour": "red"}}), BadInput, "does not know"),
        (lambda s: add_cloth(s, {}), BadInput, "needs its cloth"),
        (lambda s: describe_cloth(s, {"cloth": "c1", "said": {"id": "x"}}), BadInput, "cannot be changed"),
        (lambda s: describe_cloth(s, {"cloth": "c1", "said": {"weight_gsm": "thick"}}), BadInput, "needs a number"),
        (lambda s: record_purchase(s, {"id": "p1", "what": "x", "paid": {"minor": 1, "currency": "EUR"}}), ChangeConflict,
         "already"),
        (lambda s: record_purchase(s, {"id": "p2", "what": "x", "paid": {"minor": 1, "currency": "DUC"}}), BadInput,
         "not a currency"),
        (lambda s: record_purchase(s, {"id": "p2", "what": "x", "paid": {"minor": 1, "currency": "EUR"},
                                       "items": {"nope": 1}}), ChangeConflict, "not on the shelf"),
        (lambda s: strike_purchase(s, {"purchase": "p9"}), ChangeConflict, "no purchase"),
        (lambda s: cut(s, {**cut_params(), "placements": []}), BadInput, "needs its placements"),
        (lambda s: cut(s, cut_params("g-x")), ChangeConflict, "no garment"),
        (lambda s: cut(s, cut_params("g-pinafore", "c1", (0, 0, 1400, 10))), BadInput, "beside it"),
        (lambda s: cut(s, {**cut_params(), "kerf_mm": -1}), BadInput, "0 or more"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_nothing_changes(change, kind, says):
    shelf = workroom()
    with pytest.raises(kind, match=says):
        change(shelf)
    assert shelf == workroom()


def test_a_cloth_survives_the_log():
    cloth = Cloth(
        "c", "velvet", rectangle(700, 900), holes=(((100, 100), (200, 100), (150, 200)),), grain_deg=91.5, nap="one-way",
        flaws=(Flaw("f", ((300, 300), (400, 300), (350, 400)), "burn", 0),), repeat_mm=(24.0, None), weight_gsm=280,
        shrink_warp_percent=4, price=Money(350, "EUR"), second_hand=True, tumble_dry=False, photos=("abc",), parent="d",
    )  # fmt: skip
    assert cloth_from_json(cloth_to_json(cloth)) == cloth
    assert set(cloth_to_json(Cloth("c", "x", rectangle(9, 9)))) == {"id", "name", "outline"}


class ShelfMachine(RuleBasedStateMachine):
    """Random cuts and takings back: what is on the shelf, and the sums, always agree with a plain account."""

    def __init__(self):
        super().__init__()
        self.shelf = workroom()
        self.count = 0
        self.history = {}

    @initialize()
    def start(self):
        self.area = sum(c.area_mm2 for c in self.shelf.cloths.values())

    @rule(
        which=st.integers(0, 30), size=st.floats(0.05, 0.9), turn=st.sampled_from(["g-pinafore", "g-apron"])
    )
    def cut_something(self, which, size, turn):
        ids = sorted(self.shelf.cloths)
        if not ids:
            return
        cloth = self.shelf.cloths[ids[which % len(ids)]]
        point = cloth.polygon.representative_point()
        reach = size * cloth.polygon.exterior.distance(point)
        piece = box(point.x - reach / 2, point.y - reach / 2, point.x + reach / 2, point.y + reach / 2)
        if not cloth.polygon.covers(piece) or piece.area < 4:
            return
        self.count += 1
        before = self.shelf
        self.shelf = cut(before, cut_params(turn, cloth.id, piece.bounds), f"k{self.count}")
        self.history[f"k{self.count}"] = cloth

    @precondition(lambda self: self.shelf.cuts)
    @rule(which=st.integers(0, 30))
    def take_one_back(self, which):
        ids = list(self.shelf.cuts)
        chosen = self.shelf.cuts[ids[which % len(ids)]]
        used = any(c.id in chosen.offcuts for other in self.shelf.cuts.values() for c in other.cloths)
        if used:
            with pytest.raises(ChangeConflict):
                take_back_cut(self.shelf, {"cut": chosen.id})
        else:
            self.shelf = take_back_cut(self.shelf, {"cut": chosen.id})
            assert self.shelf.cloths[self.history[chosen.id].id] == self.history[chosen.id]

    @invariant()
    def nothing_is_lost(self):
        units_add_up(self.shelf)
        there = sum(c.area_mm2 for c in self.shelf.cloths.values())
        gone = sum(c.cut_mm2 + c.waste_mm2 for c in self.shelf.cuts.values())
        assert there + gone == pytest.approx(sum(Polygon(rectangle(1300, 2000)).area for _ in range(2)))
        used = [self.shelf.ledger.used_by(g, "EUR") for g in ("g-pinafore", "g-apron")]
        assert sum(u.minor for u in used) + self.shelf.ledger.left_worth(["c1", "c2"], "EUR").minor == 801
        assert all(c.price is None for c in self.shelf.cloths.values() if c.parent is not None)


TestShelfMachine = ShelfMachine.TestCase
TestShelfMachine.settings = settings(max_examples=25, stateful_step_count=12, deadline=None)
