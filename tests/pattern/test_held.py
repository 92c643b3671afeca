"""What is held is kept by what matches seams and shares differences, and goes through history as every other change."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.changes import attempt, replay, switch, undo
from eke.errors import ChangeConflict, EkeError
from eke.pattern.balance import read_on
from eke.pattern.checking import check_seam
from eke.pattern.corners import corner_point
from eke.pattern.held import let_go
from eke.pattern.lengths import with_length
from eke.pattern.matching import MATCHED_MM, match_all
from eke.pattern.model import Pattern
from eke.pattern.on_line import put_corner, put_notch
from eke.pattern.trueing import share_difference, share_small
from eke.pattern.walking import walk

from .samples import Story, bodice, codes, mm, rectangle, seam
from .test_balance import lined
from .test_matching import rough

# ---------------------------------------------------------------- seams are matched beside what is held


@settings(max_examples=8)
@given(st.integers(0, 10_000), st.sampled_from(["front-side", "front-shoulder", "back-armhole"]))
def test_matching_all_seams_keeps_a_held_length(seed: int, edge_id: str) -> None:
    pattern = rough(seed)
    wanted = round(mm(pattern, edge_id) + 1.5, 1)
    held = with_length(pattern, edge_id, wanted, "start", held_as="h")
    found = match_all(held)
    assert mm(found.pattern, edge_id) == pytest.approx(wanted, abs=MATCHED_MM)
    assert found.left_mm == {}
    # without holding it, it moves: the hold is what kept it
    free = match_all(let_go(held, "h"))
    assert abs(mm(free.pattern, edge_id) - wanted) > MATCHED_MM


def test_a_held_length_goes_before_a_seam_that_cannot_match_beside_it() -> None:
    pattern = with_length(bodice(), "front-side", 220.0, held_as="a")
    pattern = with_length(pattern, "back-side", 224.0, held_as="b")
    found = match_all(pattern)
    assert mm(found.pattern, "front-side") == pytest.approx(220.0, abs=MATCHED_MM)
    assert mm(found.pattern, "back-side") == pytest.approx(224.0, abs=MATCHED_MM)
    assert found.left_mm["side"] == pytest.approx(-4.0, abs=2 * MATCHED_MM)
    # and where nothing may move at all, it is no trouble either
    everything = [e.id for p in pattern.pieces.values() for e in p.edges]
    assert match_all(pattern, keep=everything).pattern == pattern


def test_a_length_that_is_slightly_off_is_made_good_by_matching_and_one_far_off_is_asked_about() -> None:
    for off, becomes in ((4.0, 220.0), (15.0, 235.0)):
        story = Story(bodice())
        story.do("true.length", edge="front-side", length_mm=220.0)
        story.do("corner.move", edge="front-side", end="end", to=[240.0, 220.0 + off])
        story.do("corner.move", edge="back-side", end="end", to=[640.0, 220.0 + off + 2.0])
        story.do("true.match_all")
        assert mm(story.state, "front-side") == pytest.approx(becomes, abs=MATCHED_MM)


def test_a_held_corner_slides_along_its_line_and_a_held_notch_goes_back_to_it() -> None:
    pattern = lined(rough(3), "front", (0.0, 222.0), (240.0, 219.0))
    pattern = put_corner(pattern, "front-side", "end", "waist", "grain", held_as="c")
    pattern = lined(pattern, "back", (400.0, 82.0), (640.0, 80.0))
    pattern = put_notch(pattern, "back-side-notch", "waist", held_as="n")
    found = match_all(pattern).pattern
    assert found.piece("back").edge("back-side").path != pattern.piece("back").edge("back-side").path
    assert "point-off-line" not in codes(found)
    level = read_on(found.piece("front").marks[-1])
    assert level.nearest(corner_point(found.edge("front-side")[1], "end")).distance_mm < 1e-6
    # on the fold it cannot slide along another line, so it stays
    pattern = lined(rough(3), "front", (-20.0, 330.0), (240.0, 330.0), name="chest")
    pattern = put_corner(pattern, "front-fold", "start", "chest", held_as="f")
    found = match_all(pattern).pattern
    assert corner_point(found.edge("front-fold")[1], "start") == corner_point(
        pattern.edge("front-fold")[1], "start"
    )


def test_sharing_a_difference_takes_it_from_the_side_that_is_free() -> None:
    story = Story(bodice())
    story.do("true.length", edge="front-side", length_mm=220.0)
    story.do("corner.move", edge="back-side", end="end", to=[640.0, 226.0])
    made = share_difference(story.state, "side")
    assert mm(made, "front-side") == 220.0
    assert mm(made, "back-side") == pytest.approx(220.0)
    with pytest.raises(ChangeConflict, match=r"held at 220\.0 mm, would become 223\.0 mm long"):
        share_difference(story.state, "side", 0.5)
    # the remedies that are offered are those that can be done
    (found,) = [f for f in check_seam(story.state, "side") if f.code == "seam-length"]
    assert [(f.kind, f.params.get("share_a")) for f in found.fixes] == [
        ("true.share", 0.0),
        ("seam.ease", None),
    ]
    small = Story(bodice())
    small.do("true.length", edge="front-side", length_mm=220.0)
    small.do("corner.move", edge="back-side", end="end", to=[640.0, 221.0])
    made = share_small(small.state)
    assert mm(made, "front-side") == 220.0
    assert walk(made, "side").difference_mm == pytest.approx(0.0, abs=1e-6)


def test_sharing_at_an_end_whose_neighbour_is_held_is_offered_at_the_other_end() -> None:
    """The corner that would move is also an end of a held edge: the armhole is not made longer by the way."""
    pattern = Pattern().with_piece(rectangle("a", 200, 300)).with_piece(rectangle("b", 200, 306, at=(500, 0)))
    pattern = pattern.with_seam(seam("side", [("a", "a-right", False)], [("b", "b-left", True)]))
    for name in ("a", "b"):
        piece = pattern.piece(name)
        slant = piece.edge(f"{name}-top").path.end
        pattern = Story(pattern).do(
            "corner.move",
            edge=f"{name}-left" if name == "a" else f"{name}-right",
            end="start" if name == "a" else "end",
            to=[slant[0] if name == "a" else 700.0, 400.0],
        )
    pattern = with_length(pattern, "a-top", mm(pattern, "a-top"), held_as="a")
    pattern = with_length(pattern, "b-top", mm(pattern, "b-top"), held_as="b")
    (found,) = [f for f in check_seam(pattern, "side") if f.code == "seam-length"]
    assert {f.params.get("at") for f in found.fixes if f.kind == "true.share"} == {"start"}
    for fix in found.fixes:
        story = Story(pattern)
        story.do(fix.kind, **fix.params)
        assert codes(story.state) & {"seam-length", "length-held"} == set()


# ---------------------------------------------------------------- as changes


def test_as_changes_they_say_so_are_switched_off_taken_back_and_set_aside() -> None:
    story = Story(lined(bodice(), "front", (0.0, 230.0), (240.0, 230.0)))
    story.do("true.length", edge="front-shoulder", length_mm=126.0, called="shoulder of front")
    story.do(
        "true.on_line",
        edge="front-side",
        end="end",
        line="waist",
        called="the underarm",
        line_called="waist line",
    )
    story.do("held.drop", edge="front-shoulder", called="“shoulder” of “front”", was="length")
    steps = replay(story.log, story.registry, story.initial).steps
    assert [s.sentence for s in steps] == [
        "Made “shoulder of front” 126.0 mm long, to stay so",
        "Put the underarm on the waist line, to stay there",
        "Let “shoulder” of “front” be of any length",
    ]
    assert steps[1].touches == ("front-side", "waist")
    # switching off the first leaves the others as they are, and the last has nothing to let go any more
    off = switch(story.log, "off", "r1", on=False)
    after = attempt(story.log, off, story.registry, story.initial, story.cache).replayed
    assert mm(after.state, "front-shoulder") == pytest.approx(120.0)
    assert [s.set_aside is None for s in after.steps] == [True, True, False]
    assert "nothing to let go" in str(after.steps[2].set_aside)
    back = undo(story.log, story.registry).log
    assert len(replay(back, story.registry, story.initial).state.held_lengths) == 1


def test_a_step_whose_line_is_gone_upstream_is_set_aside_with_the_reason() -> None:
    story = Story(bodice())
    story.do("mark.set", piece="front", id="w", kind="balance", name="waist", points=[[0, 230], [240, 230]])
    story.do("true.on_line", edge="front-side", end="end", line="w")
    off = switch(story.log, "off", "r1", on=False)
    tried = attempt(story.log, off, story.registry, story.initial, story.cache)
    step = tried.replayed.steps[1]
    assert "“front” has no balance line “w”" in str(step.set_aside)
    assert corner_point(tried.replayed.state.edge("front-side")[1], "end") == (240.0, 220.0)


@pytest.mark.parametrize(
    ("kind", "params"),
    [
        ("true.length", {}),
        ("true.length", {"edge": "front-side"}),
        ("true.length", {"edge": "front-side", "length_mm": "long"}),
        ("true.length", {"edge": "front-side", "length_mm": 220, "keep": "left"}),
        ("true.length", {"edge": "front-side", "length_mm": 220, "hold": "perhaps"}),
        ("true.length", {"edge": "nobody", "length_mm": 220}),
        ("true.on_line", {"line": "waist"}),
        ("true.on_line", {"edge": "front-side", "line": "waist"}),
        ("true.on_line", {"edge": "front-side", "end": "end", "notch": "front-side-notch", "line": "waist"}),
        ("true.on_line", {"edge": "front-side", "end": "end", "line": "waist", "along": "up"}),
        ("true.on_line", {"edge": "back-side", "end": "end", "line": "waist"}),
        ("held.drop", {}),
        ("held.drop", {"notch": "front-side-notch"}),
    ],
)
def test_nonsense_is_refused(kind: str, params: dict[str, object]) -> None:
    story = Story(lined(bodice(), "front", (0.0, 230.0), (240.0, 230.0)))
    with pytest.raises(EkeError):
        story.do(kind, **params)
    assert story.state == story.initial
