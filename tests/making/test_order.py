"""The order of work: every seam once, every forced pair kept, and the order that a sewist would expect."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.cloth import Cloth, rectangle
from eke.derive.recipes import derive, recipe_kinds
from eke.errors import BadInput, NotFound
from eke.geometry.path import Path
from eke.making import Facts, clip_count, clips_of, making_of, order_of_work
from eke.making.facts import Button
from eke.making.graph import Before
from eke.pattern.model import CutOf, RunPart

from .garments import bodice, lined_and_faced, panels, piece, seam
from .garments import pattern as make_pattern


def check(work, seams):
    """What must hold for every order."""
    ids = [task.id for task in work.tasks]
    assert len(set(ids)) == len(ids)
    place = {id_: n for n, id_ in enumerate(ids)}
    for first, second in work.forced:
        assert place[first] < place[second]
    sewn = [seam_id for task in work.tasks if task.kind in ("sew", "dart") for seam_id in task.seams]
    assert sorted(sewn) == sorted(seams)
    for seam_id in seams:
        task = next(t for t in work.tasks if seam_id in t.seams)
        if task.kind == "sew":
            assert place[task.id] < place[task.id.replace("sew:", "press:")]
    for task in work.tasks:
        assert task.sentence[0].isupper()
        assert task.sentence.endswith(".")
    return place


def test_a_bodice_in_the_order_of_the_trade():
    pattern = bodice()
    work = order_of_work(pattern, cloths=[Cloth("c", "linen", rectangle(900, 900))])
    place = check(work, pattern.seams)
    # pre-wash < press < lay out < cut < mark < darts < seams < hem (common practice)
    begin = ["wash", "press cloth", "lay", "cut", "mark"]
    assert [task.id for task in work.tasks[:5]] == begin
    assert place["dart:front:d1"] < place["sew:shoulder"]
    assert place["sew:side"] < place["hem:outer"] < place["last press"]
    assert [t.seams for t in work.tasks if t.kind == "dart"] == [("dart",)]
    assert "Wash linen" in work.tasks[0].sentence


def test_pieces_without_any_seam_are_no_patches_the_gap_is_said():
    whole = bodice()
    work = order_of_work(replace(whole, seams={}))
    assert not any(task.kind in ("prepare", "sew") for task in work.tasks)
    assert any("which edges are sewn together" in note for note in work.notes)
    assert not any("which edges are sewn together" in note for note in order_of_work(whole).notes)


def test_work_stays_flat_the_seam_that_closes_the_ring_comes_last():
    # four gores: whatever the order in which they were said, three seams leave it flat, the fourth closes it
    work = order_of_work(panels(4, closed=True))
    sewn = [task.id for task in work.tasks if task.kind == "sew"]
    assert sewn == ["sew:s0", "sew:s1", "sew:s2", "sew:band", "sew:s3"]


def test_a_seam_sewn_left_and_right_closes_the_ring_when_its_second_side_does():
    # front and back on the fold, a pair of side panels between: the left one joins the back, the right one closes
    gore = [(0, 0), (200, 0), (150, 600), (50, 600)]
    sides = [("hem", "hem"), ("right", "seam"), ("top", "opening"), ("left", "fold")]
    front, back = piece("front", gore, sides, fold="left"), piece("back", gore, sides, fold="left")
    panel = piece(
        "panel", gore, [("hem", "hem"), ("right", "seam"), ("top", "opening"), ("left", "seam")], pairs=True
    )
    tab = piece("tab", gore, [("hem", "opening"), ("right", "opening"), ("top", "seam"), ("left", "opening")])
    seams = [seam("one", "front.right", "panel.left"), seam("two", "panel.right", "back.right"),
             seam("three", "tab.top", "back.top")]  # fmt: skip
    work = order_of_work(make_pattern([front, back, panel, tab], seams))
    assert [t.id for t in work.tasks if t.kind == "sew"] == ["sew:one", "sew:three", "sew:two"]


def test_facing_and_lining_are_whole_before_they_are_joined():
    pattern = lined_and_faced()
    made = derive(pattern, recipe_kinds())
    work = order_of_work(pattern, tuple(made.pieces.values()), made.seams)
    place = check(work, [*pattern.seams, *made.seams])
    making = making_of(pattern, tuple(made.pieces.values()), made.seams)
    facing_joins = [s.id for s in made.seams.values() if making.layers_of(s) == {"facing"}]
    facing_sewn = [s.id for s in made.seams.values() if making.layers_of(s) == {"facing", "outer"}]
    assert facing_joins
    assert facing_sewn
    for join in facing_joins:
        assert place[f"press:{join}"] < place["neaten facing"]
    sewn_in = {
        seam_id: t.id.removeprefix("sew:") for t in work.tasks if t.kind == "sew" for seam_id in t.seams
    }
    assert len({sewn_in[s] for s in facing_sewn}) == 1, "one facing is sewn on in one go"
    for sewn in {sewn_in[s] for s in facing_sewn}:
        # join facing < finish its edge < sew < trim < grade < clip < understitch < press < tack
        assert place["neaten facing"] < place[f"sew:{sewn}"] < place[f"trim:{sewn}"]
        assert place[f"trim:{sewn}"] < place[f"understitch:{sewn}"] < place[f"press:{sewn}"] < place["tack"]
        assert place["press:shoulder"] < place[f"sew:{sewn}"], "press a seam before another crosses it (USDA)"
    # coat lining last, the outside complete (The New Dressmaker 1921, p. 62)
    for outer in ("side", "shoulder"):
        assert place[f"press:{outer}"] < place["sew:armhole front"]
    for lining in ("lining side", "lining shoulder"):
        assert place[f"press:{lining}"] < place["sew:armhole front"]
    assert place["hem:lining"] < place["hem:outer"]


def test_a_seam_inside_a_run_is_pressed_before_the_run_crosses_it():
    work = order_of_work(panels(3, closed=False))
    place = check(work, panels(3, closed=False).seams)
    for crossed in ("s0", "s1"):
        assert place[f"press:{crossed}"] < place["sew:band"]
        assert any(first.endswith(crossed) and second == "sew:band" for first, second in work.forced)


@given(st.integers(2, 7), st.booleans(), st.data())
def test_every_order_keeps_what_is_forced(count, closed, data):
    closed = closed and count > 2
    ids = [f"s{i}" for i in range(count - 1 + closed)]
    wish = data.draw(st.permutations(ids))
    said = [(a, b) for a, b in pairwise(wish) if data.draw(st.booleans())]
    pattern = panels(count, closed=closed, sewn_first=said)
    work = order_of_work(pattern)
    place = check(work, pattern.seams)
    for first, second in said:
        assert place[f"press:{first}"] < place[f"sew:{second}"]
    assert order_of_work(pattern) == work


def test_what_the_maker_said_wins_over_the_crossing_and_is_noted():
    pattern = panels(2, closed=False, sewn_first=[("band", "s0")])
    work = order_of_work(pattern)
    check(work, pattern.seams)
    assert "s0" in work.notes[0]
    assert "Leave the last few centimetres" in work.notes[0]


def test_a_lining_without_a_seam_is_laid_in_before_the_facings_hold_it():
    full = lined_and_faced()
    pattern = replace(full, seams={k: s for k, s in full.seams.items() if not k.startswith("armhole")})
    made = derive(pattern, recipe_kinds())
    place = check(
        order_of_work(pattern, tuple(made.pieces.values()), made.seams), [*pattern.seams, *made.seams]
    )
    facing = next(id_ for id_ in place if id_.startswith("sew:facing1/to"))
    assert place["press:lining side"] < place["line"] < place[facing]
    assert place["press:side"] < place["line"]


def test_a_strap_that_is_cut_double_is_made_up_first():
    strap = piece("strap", [(0, 0), (40, 0), (40, 300), (0, 300)],
                  [("end", "seam"), ("b", "seam"), ("c", "seam"), ("d", "seam")], pairs=True)  # fmt: skip
    strap = replace(strap, cuts=(CutOf("outer", 2, pairs=True),))
    pattern = bodice().with_piece(strap).with_seam(seam("strap", "strap.end", "back.shoulder"))
    work = order_of_work(pattern)
    place = check(work, pattern.seams)
    assert place["prepare:strap"] < place["sew:strap"]
    assert "in twos" in work.tasks[place["prepare:strap"]].sentence
    assert making_of(pattern).times(pattern.seam("strap")) == 2


def test_a_collar_on_the_fold_is_sewn_once_to_two_fronts():
    collar = piece("collar", [(0, 0), (150, 0), (150, 60), (0, 60)],
                   [("neck", "seam"), ("end", "opening"), ("edge", "opening"), ("centre", "fold")], fold="centre")  # fmt: skip
    pattern = bodice().with_piece(collar).with_seam(seam("neck", "front.neck back.neck", "collar.neck"))
    assert making_of(pattern).times(pattern.seam("neck")) == 1


def test_a_circle_is_refused_with_the_names():
    with pytest.raises(BadInput, match="“s1” is said to be sewn before “s0”, and also after it"):
        order_of_work(panels(3, closed=False, sewn_first=[("s0", "s1"), ("s1", "s0")]))


def test_pockets_go_on_while_the_front_is_flat_and_buttons_come_last():
    pocket = piece("pocket", [(0, 0), (100, 0), (100, 120), (0, 120)],
                   [("low", "seam"), ("right", "seam"), ("top", "hem"), ("left", "seam")])  # fmt: skip
    pattern = bodice().with_piece(pocket)
    facts = Facts(buttons=(Button(2, 20.0),), sewn_on={"pocket": "front"})
    work = order_of_work(pattern, facts=facts)
    place = check(work, pattern.seams)
    assert place["dart:front:d1"] < place["sew on:pocket"] < place["sew:shoulder"]
    assert place["prepare:pocket"] < place["sew on:pocket"]
    assert [task.id for task in work.tasks[-3:]] == ["last press", "buttonholes", "buttons"]
    assert "Sew pocket onto front" in work.tasks[place["sew on:pocket"]].sentence
    by_name = order_of_work(pattern, facts=replace(facts, sewn_on={"pocket": "front"}))
    assert by_name.tasks == work.tasks
    with pytest.raises(NotFound, match="no piece “frnt”"):
        order_of_work(pattern, facts=replace(facts, sewn_on={"pocket": "frnt"}))
    loose = order_of_work(pattern)
    assert "where it is marked" in next(t.sentence for t in loose.tasks if t.id == "sew on:pocket")


def test_a_fold_counts_both_sides_and_ease_is_said():
    pattern = bodice()
    making = making_of(pattern)
    assert making.times(pattern.seam("side")) == 2
    eased = pattern.with_seam(replace(pattern.seam("shoulder"), ease_mm=-6.0, ease_between=("n1", "n2")))
    words = next(t.sentence for t in order_of_work(eased).tasks if t.id == "sew:shoulder")
    assert "on both sides" in words
    assert "Back is 6 mm longer on purpose: ease it in between the notches." in words


def test_each_kind_of_seam_has_its_words():
    for kind, words in {
        "french": "wrong sides together",
        "flat-felled": "fold the other over",
        "lapped": "one over",
    }.items():
        pattern = bodice().with_seam(replace(bodice().seam("side"), kind=kind))
        task = next(t for t in order_of_work(pattern).tasks if t.id == "sew:side")
        assert words in task.sentence
        # a seam that hides its own edges is not neatened
        assert not any(t.id == "neaten:side" for t in order_of_work(pattern).tasks)


def test_clips_along_a_curve():
    # clip inward curves every 1/4 to 1/2 in (Apparel: Design, Textiles & Construction 2012, p. 451)
    assert clip_count(127.0) == (10, 20)
    assert clip_count(20.0) == (0, 0)
    # a quarter circle of 70 mm cut out of a square: 109.96 mm of inward curve
    quarter = Path.arc((200.0, 200.0), 70.0, 270.0, 180.0)
    corners = [(0, 0), (200, 0), (200, 130), (130, 200), (0, 200)]
    names = [("low", "seam"), ("right", "seam"), ("neck", "seam"), ("top", "seam"), ("left", "seam")]
    curved = piece("yoke", corners, names, curves={"neck": quarter})
    mate = piece("collar", corners, names, curves={"neck": quarter})
    pattern = bodice().with_piece(curved).with_piece(mate).with_seam(seam("neck", "yoke.neck", "collar.neck"))
    inward, outward = clips_of(making_of(pattern), pattern.seam("neck"))
    assert inward == (8, 18)
    assert outward == (0, 0)
    assert "8 to 18 clips" in next(t.sentence for t in order_of_work(pattern).tasks if t.id == "trim:neck")


@given(st.lists(st.tuples(st.integers(0, 8), st.integers(0, 8)), max_size=40))
def test_the_graph_never_goes_round_in_circles(pairs):
    graph = Before(range(9))
    for a, b in pairs:
        taken = graph.add(a, b)
        assert taken == ((a, b) in graph.pairs())
    order = graph.sorted(lambda n: (float(n),), lambda n: None)
    assert sorted(order) == list(range(9))
    assert all(order.index(a) < order.index(b) for a, b in graph.pairs())


def test_a_closed_run_part_reversed_is_found():
    part = RunPart("p0", "p0.top", reverse=True)
    assert making_of(panels(2, closed=False)).edge(part).name == "top"
