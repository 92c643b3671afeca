"""What is remembered between looks: bounded, by content, the same for many readers while somebody writes."""

from __future__ import annotations

import threading

from eke.actions import history, patterns
from eke.actions.memory import Memory
from eke.actions.pegs import pegs_of
from eke.actions.room import Room, open_room
from eke.actions.steps import step_pictures
from eke.derive import PRESETS
from helpers import tunic

TUNIC = tunic.TUNIC


def test_an_answer_is_made_once_and_the_oldest_goes_first() -> None:
    made: list[int] = []
    memory: Memory[int, int] = Memory(2)

    def square(x: int) -> int:
        def make() -> int:
            made.append(x)
            return x * x

        return memory.of(x, make)

    assert [square(x) for x in (1, 2, 1, 3, 1, 2)] == [1, 4, 1, 9, 1, 4]
    assert made == [1, 2, 3, 2]  # 2 was the oldest when 3 came
    assert len(memory) == 2
    memory.clear()
    assert (square(1), made[-1]) == (1, 1)


def test_cut_outlines_are_worked_out_once_for_a_piece_that_stays_the_same(sewn: Room) -> None:
    pattern = sewn.garment(TUNIC).pattern
    first = {p.id: sewn.outlines.cut(pattern, p) for p in pattern.pieces.values()}
    hem = patterns.find_edge(pattern, "front.hem").id
    patterns.change(sewn, TUNIC, "edge.set", {"edge": hem, "allowance_mm": 20})
    now = sewn.garment(TUNIC).pattern
    assert sewn.outlines.cut(now, now.piece("back")) is first["back"]
    front = sewn.outlines.cut(now, now.piece("front"))
    assert front[:, 1].min() > first["front"][:, 1].min() + 19.0  # type: ignore[index]
    bare = sewn.outlines.cut(now, now.piece("back"), PRESETS["none"])
    assert bare[:, 0].max() < first["back"][:, 0].max()  # type: ignore[index]


def test_what_is_remembered_equals_what_a_fresh_room_says(sewn: Room) -> None:
    side = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.side").id
    for _ in range(2):
        patterns.change(sewn, TUNIC, "notch.set", {"edge": side, "fraction": 0.4})
        history.take_back(sewn, TUNIC)
        history.do_again(sewn, TUNIC)
    seen = (
        sewn.garment(TUNIC).pattern,
        history.told(sewn, TUNIC),
        [(peg.state, peg.sentence) for peg in pegs_of(sewn, TUNIC)],
        sorted(step_pictures(sewn, TUNIC)),
    )
    folder = sewn.folder
    sewn.close()
    with open_room(folder) as fresh:
        assert seen == (
            fresh.garment(TUNIC).pattern,
            history.told(fresh, TUNIC),
            [(peg.state, peg.sentence) for peg in pegs_of(fresh, TUNIC)],
            sorted(step_pictures(fresh, TUNIC)),
        )


def test_many_look_while_one_changes(sewn: Room) -> None:
    """Every look is at one whole state: as many notches as the history says, never half of it."""
    side = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.side").id
    begun = sewn.garment(TUNIC).stored.revision
    wrong: list[object] = []
    done = threading.Event()

    def look() -> None:
        try:
            while not done.is_set():
                state = sewn.garment(TUNIC)
                count = len(state.pattern.piece("front").notches)
                if count != state.stored.revision - begun:
                    wrong.append((count, state.stored.revision - begun))
                told = history.told(sewn, TUNIC)
                if sum(line.kind == "notch.set" for line in told.lines) != told.revision - begun:
                    wrong.append(told.revision)
        except Exception as error:
            wrong.append(error)

    readers = [threading.Thread(target=look) for _ in range(3)]
    for one in readers:
        one.start()
    for k in range(25):
        patterns.change(sewn, TUNIC, "notch.set", {"edge": side, "mm": 10.0 * (k + 1)})
    done.set()
    for one in readers:
        one.join()
    assert wrong == []
    assert len(sewn.garment(TUNIC).pattern.piece("front").notches) == 25
