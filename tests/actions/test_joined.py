"""Photographs laid together: a photograph of its own beside its parts, kept whole, read again, put aside."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from eke.actions import found, joined, photographs
from eke.actions.room import Room
from eke.actions.work import trace_job
from eke.errors import BadInput, NotFound, NotTrustworthy
from eke.jobs import Report
from helpers import pictures, tunic

TUNIC = tunic.TUNIC


@pytest.fixture(scope="module")
def made() -> dict[str, Any]:
    """What a joining keeps: here the picture is one photograph, and what was found on it."""
    data = pictures.demo_photograph()
    seen = trace_job(
        Report(),
        data=data,
        name="pocket",
        references=[{"kind": "card"}],
        square_paper=True,
        cloth=False,
        touches=[],
    )
    width, height = seen["camera"]["size_px"]
    return {"found": seen, "jpeg": data, "width_px": width, "height_px": height}


@pytest.fixture
def parts(sewn: Room) -> list[str]:
    data = [pictures.plain_jpeg(800, 600), pictures.plain_jpeg(820, 600), pictures.plain_jpeg(840, 600)]
    return [photographs.take_in_photograph(sewn, TUNIC, d, f"leg {k}.jpg").id for k, d in enumerate(data)]


def test_it_lies_beside_its_parts(sewn: Room, parts: list[str]) -> None:
    one = joined.lay_together(sewn, parts[:2])
    assert (one.parts, one.state, one.name) == (tuple(parts[:2]), "new", "leg 0 + leg 1")
    assert one.photo == photographs.photograph(sewn, parts[0]).photo
    assert [p.id for p in photographs.photographs_of(sewn, TUNIC)] == [*parts, one.id]


def test_the_same_parts_in_any_order_are_the_same(sewn: Room, parts: list[str]) -> None:
    one = joined.lay_together(sewn, parts[:2])
    photographs.put_aside(sewn, one.id)
    again = joined.lay_together(sewn, [parts[1], parts[0], parts[1]])
    assert (again.id, again.aside) == (one.id, False)
    assert joined.lay_together(sewn, parts).id != one.id


def test_what_cannot_lie_together(sewn: Room, parts: list[str]) -> None:
    whole = joined.lay_together(sewn, parts[:2])
    cloth = photographs.take_in_photograph(
        sewn, "shelf", pictures.plain_jpeg(860, 600), "wool.jpg", cloth=True
    )
    for chosen, says in (
        ([], "from 2 to"),
        (parts[:1] * 3, "from 2 to"),
        ([whole.id, parts[2]], "joined of several"),
        ([parts[0], cloth.id], "do not lie together"),
    ):
        with pytest.raises(BadInput, match=says):
            joined.lay_together(sewn, chosen)
    with pytest.raises(NotFound):
        joined.lay_together(sewn, [parts[0], "nobody"])
    assert len(photographs.photographs_of(sewn, TUNIC)) == 4


def test_what_is_said_of_the_parts_goes_along(sewn: Room, parts: list[str]) -> None:
    photographs.say_of_photograph(
        sewn, parts[1], references=[{"kind": "a4"}], square_paper=True,
        touches=[{"x_px": 20, "y_px": 30, "side": "+"}], strokes=[{"how": "rub", "points_px": [[5, 6]]}],
    )  # fmt: skip
    words = joined.join_words(sewn, joined.lay_together(sewn, parts[:2]))
    first, second = words["pictures"]
    assert (first["references"], first["square_paper"], first["touches"]) == ([{"kind": "auto"}], False, [])
    assert second["references"][0]["kind"] == "a4"
    assert second["square_paper"]
    assert second["touches"] == [{"x_px": 20.0, "y_px": 30.0, "side": "+"}]
    assert (first["strokes"], second["strokes"]) == ([], [{"how": "rub", "points_px": [[5.0, 6.0]]}])
    assert (words["touches_mm"], words["strokes_mm"]) == ([], [])


def test_picture_and_outlines_are_kept_together(sewn: Room, parts: list[str], made: dict[str, Any]) -> None:
    one = joined.lay_together(sewn, parts[:2])
    kept = joined.keep_joined(sewn, one.id, made, one.said)
    assert (kept.state, kept.width_px, kept.height_px) == ("found", made["width_px"], made["height_px"])
    with sewn.store.read() as reader:
        assert reader.photo_bytes(kept.photo) == made["jpeg"]
    done = found.take_piece(sewn, one.id, "1", "leg")
    assert sewn.garment(TUNIC).pattern.piece(done.id).name == "leg"
    # touches are places on the paper: joined anew they lie where they lay
    said = photographs.say_of_photograph(
        sewn, one.id, touches=[{"x_px": 300, "y_px": 200, "side": "-"}],
        strokes=[{"how": "draw", "points_px": [[310, 200], [330, 220]]}],
    )  # fmt: skip
    assert said.state == "changed"
    ((x, y, side),) = joined.join_words(sewn, said)["touches_mm"]
    assert side == "-"
    again = joined.keep_joined(sewn, one.id, made, said.said)
    assert again.state == "found"
    assert again.touches[0]["x_px"] == pytest.approx(300.0, abs=1e-3)
    assert again.touches[0]["y_px"] == pytest.approx(200.0, abs=1e-3)
    (stroke,) = again.strokes
    assert stroke["how"] == "draw"
    assert np.allclose(stroke["points_px"], [[310, 200], [330, 220]], atol=1e-3)
    assert again.made["pieces"] == {"1": done.id}
    assert joined.join_words(sewn, again)["touches_mm"][0][:2] == pytest.approx((x, y), abs=1e-3)


def test_what_is_said_meanwhile_is_not_lost(sewn: Room, parts: list[str], made: dict[str, Any]) -> None:
    one = joined.lay_together(sewn, parts[:2])
    before = one.said
    joined.keep_joined(sewn, one.id, made, before)
    photographs.say_of_photograph(sewn, one.id, touches=[{"x_px": 300, "y_px": 200, "side": "-"}])
    assert joined.keep_joined(sewn, one.id, made, before).state == "changed"


def test_a_refusal_is_kept(sewn: Room, parts: list[str]) -> None:
    one = joined.lay_together(sewn, parts[:2])
    with pytest.raises(NotTrustworthy, match="Picture 1: ") as no:
        joined.join_job(Report(), **joined.join_words(sewn, one))
    kept = found.keep_refused(sewn, one.id, no.value, one.said)
    assert kept.state == "refused"
    assert kept.parts == tuple(parts[:2])
    assert photographs.photograph(sewn, parts[0]).state == "new"
