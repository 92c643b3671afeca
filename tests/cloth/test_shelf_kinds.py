"""The workroom's history: undo of a cut gives the cloth back, replay is the same, each kind has its sentence."""

import pytest
from shapely.geometry import box

from eke.changes import Log, Record, Registry, attempt, redo, replay, undo
from eke.cloth import Cloth, rectangle
from eke.cloth.record import cloth_to_json
from eke.cloth.shelf import Shelf
from eke.cloth.shelf_kinds import workroom_kinds
from eke.errors import BadInput, ChangeConflict

KINDS = Registry(workroom_kinds())


class Day:
    """A workroom's log that is written to line by line."""

    def __init__(self):
        self.log, self.state, self.count = Log(), Shelf(), 0

    def do(self, kind, **params):
        self.count += 1
        id_ = f"r{self.count}"
        tried = attempt(self.log, Record(id_, self.log.head, kind, 1, params), KINDS, Shelf())
        self.log, self.state = tried.log, tried.replayed.state
        return id_


def placements(cloth, *boxes):
    return [
        {
            "piece": f"p{i}",
            "name": f"piece {i}",
            "cloth": cloth,
            "outline": list(box(*b).exterior.coords)[:-1],
        }
        for i, b in enumerate(boxes)
    ]


@pytest.fixture
def day():
    day = Day()
    day.do("project.start", id="pinafore", name="Pinafore")
    day.do("garment.enter", id="g", name="pinafore", project="pinafore")
    day.do("cloth.add", cloth=cloth_to_json(Cloth("c1", "Blue curtain", rectangle(1300, 2000), grain_deg=90)))
    day.do(
        "cloth.reserve", cloth="c1", project="pinafore", names={"c1": "Blue curtain", "pinafore": "Pinafore"}
    )
    return day


def test_undo_of_a_cut_gives_the_cloth_back_and_redo_cuts_it_alike(day):
    before = day.state
    day.do("cut.confirm", garment="g", revision="r7", placements=placements("c1", (0, 0, 600, 900)))
    after = day.state
    assert "c1" not in after.cloths
    moved = undo(day.log, KINDS)
    assert replay(moved.log, KINDS, Shelf()).state == before
    assert "Cut one piece" in moved.sentence
    assert replay(redo(moved.log, KINDS).log, KINDS, Shelf()).state == after


def test_offcuts_keep_their_ids_on_every_replay_and_can_be_used(day):
    cut = day.do("cut.confirm", garment="g", revision="r7", placements=placements("c1", (0, 0, 600, 900)))
    (offcut,) = day.state.cuts[cut].offcuts
    assert replay(day.log, KINDS, Shelf()).state.cuts[cut].offcuts == (offcut,)
    day.do("cut.confirm", garment="g", revision="r8", placements=placements(offcut, (700, 1000, 900, 1300)))
    with pytest.raises(ChangeConflict, match="has since been cut for “pinafore”"):
        day.do("cut.take_back", cut=cut)
    last = f"r{day.count - 1}"
    day.do("cut.take_back", cut=last)
    day.do("cut.take_back", cut=cut)
    assert set(day.state.cloths) == {"c1"}


def test_a_refused_change_leaves_the_log_alone(day):
    log = day.log
    with pytest.raises(BadInput, match="beside it"):
        day.do("cut.confirm", garment="g", revision="r", placements=placements("c1", (0, 0, 6000, 900)))
    assert day.log is log


def test_a_kind_for_everything_and_a_sentence_for_each(day):
    money = {"amount": "8", "currency": "EUR"}
    day.do("notion.add", id="b", name="wooden buttons", amount=6)
    day.do("notion.use", notion="b", garment="g", amount=2, names={"b": "wooden buttons"})
    day.do(
        "purchase.record", id="p", what="two curtains", paid=money, items={"c1": 1}, projects={"pinafore": 1}
    )
    day.do("purchase.strike", purchase="p")
    day.do("budget.set", project="pinafore", amount=money)
    flaw = {"id": "f", "polygon": [[10, 10], [60, 10], [60, 60]], "kind": "burn", "quality": 0}
    day.do("cloth.mark_flaw", cloth="c1", flaw=flaw)
    day.do("cloth.describe", cloth="c1", said={"weight_gsm": 210, "same_face": True})
    day.do("cloth.wash", cloth="c1")
    cut = day.do("cut.confirm", garment="g", revision="r", placements=placements("c1", (100, 100, 600, 900)))
    day.do("cut.take_back", cut=cut)
    day.do("cloth.release", cloth="c1", project="pinafore")
    day.do("cloth.discard", cloth="c1")
    said = {}
    for record in day.log.current:
        kind = KINDS.kind(record.kind, 1)
        said[record.kind] = kind.sentence(record.params)
        assert kind.touches(record.params)
    assert set(said) == {kind.name for kind in KINDS}
    for sentence in said.values():
        assert sentence[0].isupper()
        assert not sentence.endswith(".")
    assert said["purchase.record"] == "Bought two curtains for 8.00 EUR"
    assert said["cloth.mark_flaw"] == "Marked a burn on “c1”"
    assert said["cloth.describe"] == "Described “c1”: weight gsm, same face"
    assert said["cloth.reserve"] == "Kept “Blue curtain” for “Pinafore”"
    assert said["notion.use"] == "Used 2 of “wooden buttons” for “g”"
