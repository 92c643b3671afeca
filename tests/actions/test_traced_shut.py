"""What was traced shut, in a garment: its history, its paper, its order of work."""

from __future__ import annotations

import re

import pytest

from eke.actions import history, patterns
from eke.actions.drawn import drawn_piece
from eke.actions.fitting import ruler_steps_of
from eke.actions.room import Room
from eke.actions.sheets import ruler_step_pages
from eke.derive import PRESETS
from eke.errors import EkeError
from eke.making import order_of_work
from eke.pattern.corners import dart_intake_mm, pleat_intake_mm, pleat_shut_move
from eke.pattern.editing import unfolded
from helpers import tunic
from paper.looks import writing


def opened(room: Room) -> tuple[str, str]:
    """A tunic with a dart and a pleat opened and its back's armhole eased; the ids of the first two steps."""
    name = tunic.TUNIC
    lines = {
        "bust": ("front", [[190.0, 200.0], [110.0, 260.0]]),
        "back": ("back", [[110.0, 489.0], [112.0, 370.0]]),
    }
    for mark, (piece, points) in lines.items():
        patterns.change(
            room, name, "mark.set", {"piece": piece, "id": mark, "kind": "line", "points": points}
        )
    dart = patterns.change(
        room,
        name,
        "fit.open_dart",
        {"mark": "bust", "intake_mm": 12.0, "measured": "folded"},
        note="measured",
    )
    pleat = patterns.change(room, name, "fit.open_pleat", {"mark": "back", "intake_mm": 20.0, "how": "tuck"})
    armhole = patterns.find_edge(room.garment(name).pattern, "back.armhole").id
    patterns.change(room, name, "gather.say", {"edge": armhole, "how": "eased"})
    assert dart.sentence == "Opened a traced dart of 24 mm (12 mm folded) at front."
    assert pleat.sentence == "Opened a tuck of 20 mm at back."
    return dart.id, pleat.id


def test_they_are_replayed_taken_back_and_set_aside_with_the_reason(sewn: Room) -> None:
    dart, _ = opened(sewn)
    front = sewn.garment(tunic.TUNIC).pattern.piece("front")
    assert dart_intake_mm(front, front.darts[0]) == pytest.approx(24.0)
    line = next(
        s.record.id for s in sewn.garment(tunic.TUNIC).replayed.steps if s.record.params.get("id") == "bust"
    )
    history.switch_change(sewn, line, False, tunic.TUNIC)
    state = sewn.garment(tunic.TUNIC)
    assert state.pattern.piece("front").darts == ()
    step = state.replayed.step(dart)
    assert step is not None
    assert "not there any more" in str(step.set_aside)
    # the pleat, which does not need it, stands
    assert len(state.pattern.piece("back").pleats) == 1
    history.switch_change(sewn, line, True, tunic.TUNIC)
    again = sewn.garment(tunic.TUNIC).pattern.piece("front")
    assert again == front


def test_paper_and_the_order_of_work_tell_of_them(sewn: Room) -> None:
    dart, pleat = opened(sewn)
    pattern = sewn.garment(tunic.TUNIC).pattern
    back = drawn_piece(pattern, pattern.piece("back"), "2", PRESETS["home"])
    assert {line.kind for line in back.lines} >= {"dart", "crease", "mark"}
    assert "ease in" in {line.label for line in back.lines}
    words = [task.sentence for task in order_of_work(pattern).tasks]
    assert any("Fold the tuck in back" in w and "10 mm deep" in w for w in words)
    assert any("Run one row of long stitches" in w for w in words)
    for step in (dart, pleat):
        sheet = ruler_steps_of(sewn, tunic.TUNIC, step)
        assert any("stick paper beneath" in sentence for sentence in sheet.sentences)
        pages = ruler_step_pages(sewn, tunic.TUNIC, step)
        said = " ".join(words.text for page in pages for words in writing(page))
        # the paper is cut and spread: nothing is said of dots and a smooth line
        assert "spread it" in said
        assert "In this order" in said
        assert "dots" not in said
        # a cut has a place and no amount in or out
        assert re.search(r"cut from here, [\d.]+ mm along(?!:)", said)
        assert re.search(r"cut to here, [\d.]+ mm along(?!:)", said)
        assert "along:" not in said


def test_a_pleat_stays_a_pleat_when_its_piece_is_turned_or_made_whole(sewn: Room) -> None:
    opened(sewn)
    pattern = sewn.garment(tunic.TUNIC).pattern
    piece = pattern.piece("back")
    whole = unfolded(piece)
    assert len(whole.pleats) == 2
    for one in whole.pleats:
        under, back = (whole.edge(e).path for e in one.mouths[0])
        assert pleat_shut_move(whole, one).apply(back.end) == pytest.approx(under.start, abs=1e-6)
        assert pleat_intake_mm(whole, one) == pytest.approx(20.0)
    with pytest.raises(EkeError):
        patterns.change(
            sewn, tunic.TUNIC, "edge.split", {"edge": piece.pleats[0].mouths[0][0], "fraction": 0.5}
        )
