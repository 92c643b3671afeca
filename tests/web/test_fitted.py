"""A traced mock-up piece over the server: laid on its piece, offered, carried over and taken back."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from eke.actions.room import Room
from helpers.fitting import TUNIC, taken_in, trace


@pytest.fixture
def address(sewn: Room) -> str:
    """The tunic, with its fitted front traced: 9 mm are pinned out at the side."""
    trace(sewn, taken_in(sewn))
    return f"/api/garments/{sewn.garment(TUNIC).id}"


def pieces(client: TestClient, address: str) -> dict[str, str]:
    return {piece["name"]: piece["id"] for piece in client.get(address).json()["pieces"]}


def test_what_was_moved_is_offered_and_carried_over(client: TestClient, address: str) -> None:
    ids = pieces(client, address)
    asked = f"{address}/pieces/{ids['front']}/fitted/{ids['fitted front']}"
    view = client.get(asked).json()
    moved = [edge for edge in view["edges"] if edge["beyond"]]
    (side,) = moved
    assert (side["name"], side["kind"], side["sewn"]) == ("side", "fit.take_in", True)
    assert side["most_mm"] == pytest.approx(-9.0, abs=1.0)
    assert side["params"]["share_a"] in (0.0, 1.0)
    assert view["edges"][0] == side, "what was moved comes first"
    with_mate = client.get(asked, params={"both": [side["edge"]]}).json()["edges"][0]
    assert with_mate["params"]["share_a"] == 0.5
    said = {"piece": view["piece"], "traced": view["traced"], "this": [side["edge"]], "both": []}
    assert client.post(f"{address}/carry", json=said | {"expected": 0}).status_code == 409
    assert "fitted front" in pieces(client, address), "nothing was done"
    assert client.post(f"{address}/carry", json=said).status_code == 200
    assert set(pieces(client, address)) == {"front", "back"}


def test_what_cannot_be_is_said(client: TestClient, address: str) -> None:
    ids = pieces(client, address)
    on_itself = client.get(f"{address}/pieces/{ids['front']}/fitted/{ids['front']}")
    assert on_itself.status_code == 400
    said = {"piece": ids["front"], "traced": ids["fitted front"], "this": ["e"], "both": ["e"]}
    answer = client.post(f"{address}/carry", json=said)
    assert answer.status_code == 400
    assert "in two ways" in answer.json()["sentence"]
    assert client.post(f"{address}/carry", json=said | {"this": [], "both": []}).status_code == 400
    assert "fitted front" in pieces(client, address)
