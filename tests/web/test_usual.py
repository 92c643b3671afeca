"""A wearer's usual changes over the server: what is offered is made by the route for changes, and by nothing else."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from eke.actions import patterns, projects
from eke.actions.room import Room
from helpers import tunic

BLOUSE = "Blouse"


@pytest.fixture
def blouse(sewn: Room, client: TestClient) -> str:
    """The address of a blouse for the wearer whose tunic was lengthened."""
    projects.enter_garment(sewn, tunic.PROJECT, BLOUSE)
    tunic.take_tunic(sewn, BLOUSE)
    tunic.sew_tunic(sewn, BLOUSE)
    side = patterns.find_edge(sewn.garment(tunic.TUNIC).pattern, "back.side")
    patterns.change(
        sewn, tunic.TUNIC, "fit.lengthen", {"edge": side.id, "mm": 120.0, "by_mm": 9.0}, "too short"
    )
    for name in (tunic.TUNIC, BLOUSE):
        address = f"/api/garments/{sewn.garment(name).id}"
        done = client.post(f"{address}/wearer", json={"name": "the eldest"})
        assert done.json()["sentence"] == "Noted that it is made for the eldest."
    return address


def told(client: TestClient, garment: str) -> dict[str, Any]:
    answer = client.get(f"{garment}/usual")
    assert answer.status_code == 200, answer.text
    view: dict[str, Any] = answer.json()
    return view


def test_what_is_offered_can_be_looked_at_and_made(client: TestClient, blouse: str) -> None:
    view = told(client, blouse)
    assert (view["wearer"], view["wearers"], view["others"]) == ("the eldest", ["the eldest"], ["Tunic"])
    (offer,) = view["offers"]
    said = {"kind": offer["kind"], "params": offer["params"], "note": offer["note"]}
    seen = client.post(f"{blouse}/preview", json=said)
    assert {change["name"] for change in seen.json()["changes"]} == {"front", "back"}
    assert told(client, blouse) == view, "looking keeps nothing"
    assert client.post(f"{blouse}/changes", json=said).status_code == 200
    assert told(client, blouse)["offers"] == []


def test_not_for_this_garment_and_offered_again(client: TestClient, blouse: str) -> None:
    (offer,) = told(client, blouse)["offers"]
    aside = {"key": offer["key"], "offered": False}
    assert client.post(f"{blouse}/usual", json=aside | {"expected": 0}).status_code == 409
    assert client.post(f"{blouse}/usual", json=aside).status_code == 200
    view = told(client, blouse)
    assert (view["offers"], [one["key"] for one in view["aside"]]) == ([], [offer["key"]])
    assert client.post(f"{blouse}/usual", json=aside).status_code == 404
    assert client.post(f"{blouse}/usual", json={"key": offer["key"], "offered": True}).status_code == 200
    assert told(client, blouse)["offers"] == [offer]
