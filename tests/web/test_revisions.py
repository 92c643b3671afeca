"""Two stages of a garment over the server."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from eke.actions import fitting, history, patterns
from eke.actions.room import Room
from helpers import tunic

KNOTS = [(0.0, 0.0), (150.0, 8.0), (340.0, 0.0)]


@pytest.fixture
def garment(sewn: Room) -> str:
    """The address of a tunic with a mock-up, taken in since."""
    patterns.change(sewn, tunic.TUNIC, "mockup.note", {"noticed": "wide"})
    fitting.take_in(sewn, tunic.TUNIC, "side", KNOTS, reason="wide")
    return f"/api/garments/{sewn.garment(tunic.TUNIC).id}"


def test_stages_and_two_of_them(sewn: Room, client: TestClient, garment: str) -> None:
    stages = client.get(f"{garment}/stages").json()
    assert [s["now"] for s in stages].count(True) == 1
    (cut,) = [s for s in stages if s["mock_ups"]]
    told = client.get(f"{garment}/compare").json()
    assert (told["earlier"], told["later"]["now"]) == (cut, True)
    same = client.get(f"{garment}/compare", params={"earlier": "now", "later": cut["id"]}).json()
    assert same == told
    assert {p["name"]: p["how"] for p in told["pieces"]} == {"front": "changed", "back": "changed"}
    front = next(p for p in told["pieces"] if p["name"] == "front")
    assert front["before"]["edges"] != front["after"]["edges"]
    assert front["apart_mm"] == pytest.approx(4.0, abs=0.1)
    assert [(s["sentence"], s["fate"]) for s in told["steps"]][-1] == ("Took in side by up to 8 mm", "made")
    for row in told["measures"]:
        by = row["after_mm"] - row["before_mm"]
        assert row["difference_mm"] == pytest.approx(by, abs=0.06)


def test_a_piece_that_is_the_same_is_sent_once(sewn: Room, client: TestClient, garment: str) -> None:
    history.take_back(sewn, tunic.TUNIC)
    told = client.get(f"{garment}/compare").json()
    assert {(p["how"], p["before"]) for p in told["pieces"]} == {("same", None)}
    ahead = client.get(f"{garment}/stages").json()[-1]
    assert (ahead["undone"], ahead["now"]) == (True, False)
    told = client.get(f"{garment}/compare", params={"later": ahead["id"]}).json()
    assert {p["how"] for p in told["pieces"]} == {"changed"}


def test_no_such_stage_is_said_plainly(client: TestClient, garment: str) -> None:
    answer = client.get(f"{garment}/compare", params={"earlier": "mock-up 9"})
    assert answer.status_code == 404
    assert "mock-up 1" in answer.json()["sentence"]
