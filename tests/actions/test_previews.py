"""What a change would do: it equals what it does, and leaves nothing behind. Findings know where they are."""

from __future__ import annotations

import pytest
from shapely.geometry import LinearRing, Point

from eke.actions import fitting, history, patterns
from eke.actions.placed import Placed, placed_findings
from eke.actions.previews import changes_between, preview, standing_of
from eke.actions.room import Room
from eke.errors import BadInput, EkeError
from eke.findings import Finding
from eke.pattern.model import Pattern
from helpers import tunic

TUNIC = tunic.TUNIC


def seam(room: Room, name: str) -> str:
    return fitting.find_seam(room.garment(TUNIC).pattern, name)


def test_a_preview_equals_the_change_and_keeps_nothing(sewn: Room) -> None:
    share = {"seam": seam(sewn, "side"), "share_a": 0.5}
    before = sewn.garment(TUNIC)
    seen = preview(sewn, TUNIC, "true.share", share)
    assert sewn.garment(TUNIC).stored.revision == before.stored.revision
    assert history.history(sewn, TUNIC)[-1].kind == "seam.say"
    patterns.change(sewn, TUNIC, "true.share", share)
    after = sewn.garment(TUNIC)
    assert seen.after.pattern == after.pattern
    assert {c.id: c.after for c in seen.changes} == {k: after.pattern.pieces[k] for k in ("front", "back")}
    assert {c.id: c.before for c in seen.changes} == dict(before.pattern.pieces)
    assert seen.findings == placed_findings(after)


def test_findings_that_would_go_and_come_are_counted(sewn: Room) -> None:
    share = preview(sewn, TUNIC, "true.share", {"seam": seam(sewn, "side"), "share_a": 0.5})
    assert [one.finding.code for one in share.solved] == ["seam-length"]
    worse = preview(sewn, TUNIC, "seam.drop", {"seam": seam(sewn, "side")})
    assert sorted(one.finding.code for one in worse.caused) == ["seam-unsaid", "seam-unsaid"]


def facing(room: Room) -> dict:
    neck = patterns.find_edge(room.garment(TUNIC).pattern, "front.neck").id
    said = {"recipe": "facing", "name": "facing", "params": {"edges": [neck], "width_mm": 50}}
    patterns.change(room, TUNIC, "recipe.add", said)
    return said


def test_derived_pieces_are_among_what_changes(sewn: Room) -> None:
    said = facing(sewn)
    history.take_back(sewn, TUNIC)
    neck = said["params"]["edges"][0]
    seen = preview(sewn, TUNIC, "recipe.add", said)
    assert [(c.before, c.name) for c in seen.changes] == [(None, "facing")]
    history.do_again(sewn, TUNIC)
    wider = preview(sewn, TUNIC, "corner.move", {"edge": neck, "end": "end", "to": [0, 425]})
    assert {c.name for c in wider.changes} == {"front", "facing"}


def test_a_preview_says_what_would_lose_its_place(sewn: Room) -> None:
    fitting.take_in(sewn, TUNIC, "side", [(0, 0), (150, 8), (340, 0)])
    facing(sewn)
    dropped = preview(sewn, TUNIC, "piece.drop", {"piece": "front"})
    assert [(c.name, c.after) for c in dropped.changes] == [("front", None), ("facing", None)]
    # it comes after the fit change, so that one keeps its place; the facing has no neck any more
    assert dropped.unsettled == ()
    assert "target-gone" in {one.finding.code for one in dropped.caused}


@pytest.mark.parametrize(
    ("kind", "params"),
    [
        ("make.tea", {}),
        ("true.straighten", {}),
        ("true.straighten", {"edge": "nothing"}),
        ("true.straighten", {"edge": ["a", "list"]}),
        ("fit.take_in", {"seam": "nothing", "knots": [[0, 0], [1, 1]]}),
        ("fit.take_in", {"seam": {}, "knots": "many"}),
        ("fit.add_dart", {"edge": "front"}),
        ("recipe.add", {"params": {"edges": ["gone"]}}),
        ("recipe.set", {"recipe_id": "gone", "params": {}}),
    ],
)
def test_what_cannot_be_done_cannot_be_previewed(sewn: Room, kind: str, params: dict) -> None:
    before = sewn.garment(TUNIC).stored.revision
    with pytest.raises(EkeError) as refused:
        preview(sewn, TUNIC, kind, params)
    assert "mistake" not in refused.value.message
    with pytest.raises(EkeError):
        patterns.change(sewn, TUNIC, kind, params)
    assert sewn.garment(TUNIC).stored.revision == before


# ---------------------------------------------------------------- where findings are


def spoil(room: Room) -> None:
    """Give the tunic one of each kind of finding that has a place on a seam, a fold, a notch, a dart."""
    pattern = room.garment(TUNIC).pattern
    front_side = patterns.find_edge(pattern, "front.side").id
    back_side = patterns.find_edge(pattern, "back.side").id
    neck = patterns.find_edge(pattern, "front.neck").id
    for edge, at in ((front_side, 100), (front_side, 200), (back_side, 150), (back_side, 203)):
        patterns.change(room, TUNIC, "notch.set", {"edge": edge, "mm": at})
    patterns.change(room, TUNIC, "corner.move", {"edge": neck, "end": "end", "to": [0, 420]})
    patterns.change(
        room, TUNIC, "corner.move", {"edge": back_side, "end": "start", "to": [215, -tunic.SIDE_GAP_MM]}
    )


def on_outline_mm(pattern: Pattern, piece: str, at: tuple[float, float]) -> float:
    return LinearRing(pattern.pieces[piece].outline.flatten(0.001)[:-1]).distance(Point(at))  # type: ignore[index]


def test_every_finding_lies_on_the_outline_of_its_piece(sewn: Room) -> None:
    spoil(sewn)
    state = sewn.garment(TUNIC)
    found = placed_findings(state)
    codes = {one.finding.code for one in found}
    assert {"seam-length", "notch-alone", "notch-apart", "join-angle", "fold-square"} <= codes
    for one in found:
        assert one.piece in state.pattern.pieces
        if one.at is not None:
            assert on_outline_mm(state.pattern, one.piece, one.at) < 0.01, one.finding.sentence
    # the two frames differ: a place on one piece is none on the other
    off = [one for one in found if one.at is not None and one.finding.code == "notch-apart"]
    assert off
    for one in off:
        other = "back" if one.piece == "front" else "front"
        assert on_outline_mm(state.pattern, other, one.at) > 0.5


def test_what_nobody_can_mean_cannot_be_settled(sewn: Room) -> None:
    assert Placed(Finding("seam-length", "ask", "x")).can_settle
    assert not Placed(Finding("outline-crosses", "fault", "x")).can_settle
    facing(sewn)
    patterns.change(sewn, TUNIC, "piece.drop", {"piece": "front"})
    gone = [one for one in placed_findings(sewn.garment(TUNIC)) if one.finding.code == "target-gone"]
    assert [(one.can_settle, one.piece) for one in gone] == [(False, None)]


def test_settling_takes_a_finding_off_the_list(sewn: Room) -> None:
    (off,) = [o for o in placed_findings(sewn.garment(TUNIC)) if o.finding.code == "seam-length"]
    params = {"code": "seam-length", "where": list(off.finding.where)}
    assert off in preview(sewn, TUNIC, "finding.settle", params).solved


def test_nothing_changes_between_equal_states(sewn: Room) -> None:
    standing = standing_of(sewn.garment(TUNIC))
    assert changes_between(standing, standing) == ()


def test_a_preview_on_an_older_state_is_refused(sewn: Room) -> None:
    seen = sewn.garment(TUNIC).stored.revision
    with pytest.raises(EkeError, match="meanwhile"):
        preview(sewn, TUNIC, "pattern.rename", {"name": "x"}, expected=seen - 1)
    same = preview(sewn, TUNIC, "pattern.rename", {"name": "x"}, expected=seen)
    assert (same.sentence, same.changes) == ("Called the garment “x”.", ())
    with pytest.raises(BadInput, match="needs a name"):
        preview(sewn, TUNIC, "piece.rename", {"piece": "front", "name": "  "})
