"""Advice over the server: what a mock-up may show, the remedies at a place, and what one of them would do."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from eke.actions.room import Room
from helpers import tunic


@pytest.fixture
def garment(sewn: Room, client: TestClient) -> str:
    """The address of a sewn tunic."""
    return f"/api/garments/{sewn.garment(tunic.TUNIC).id}"


def edge(client: TestClient, garment: str, piece: str, name: str) -> dict[str, Any]:
    view = client.get(garment).json()
    (found,) = [e for p in view["pieces"] if p["name"] == piece for e in p["edges"] if e["name"] == name]
    return found


def asked(client: TestClient, garment: str, **said: Any) -> dict[str, Any]:
    answer = client.post(f"{garment}/advice", json=said)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_showings_are_listed_with_their_question(client: TestClient, garment: str) -> None:
    told = client.get(f"{garment}/advice").json()
    assert "armhole-gapes" in {one["code"] for one in told}
    assert all(one["asks"].endswith("?") and one["press"] and one["words"] for one in told)


def test_advice_is_given_and_nothing_is_kept(client: TestClient, garment: str) -> None:
    armhole = edge(client, garment, "front", "armhole")
    before = client.get(garment).json()
    told = asked(
        client, garment, showing="armhole-gapes", edge=armhole["id"], mm=60.0, amount_mm=12.0, whole=True
    )
    assert told["means"] == "12 mm on the whole body: 6 mm on each half."
    assert told["amount_mm"] == 6.0
    assert told["seen"] == "The armhole gapes, 12 mm on the whole body"
    ranks = [one["sensible"] for one in told["remedies"]]
    assert ranks == sorted(ranks, reverse=True)
    assert all(
        one["reason"] and one["source"] and one["note"].startswith(told["seen"]) for one in told["remedies"]
    )
    assert any("has no dart" in one["why"] for one in told["not_here"])
    assert client.get(garment).json() == before


def test_each_remedy_does_what_its_effect_says(client: TestClient, garment: str) -> None:
    armhole = edge(client, garment, "front", "armhole")
    told = asked(
        client, garment, showing="armhole-gapes", edge=armhole["id"], mm=60.0, amount_mm=6.0, whole=False
    )
    changes = [one for one in told["remedies"] if one["kind"]]
    assert changes
    for one in changes:
        said = {"kind": one["kind"], "params": one["params"]}
        effect = client.post(f"{garment}/advice/effect", json=said)
        assert effect.status_code == 200, effect.text
        assert "front" in effect.json()["pieces"]
        done = client.post(f"{garment}/changes", json={**said, "note": one["note"]})
        assert done.status_code == 200, done.text
        assert done.json()["sentence"].rstrip(".") == effect.json()["sentence"].rstrip(".")
        assert client.post(f"{garment}/undo", json={}).status_code == 200


def test_the_note_is_kept_with_the_step(client: TestClient, garment: str) -> None:
    side = edge(client, garment, "front", "side")
    told = asked(client, garment, showing="loose-at-waist", edge=side["id"], mm=180.0, amount_mm=40.0)
    one = told["remedies"][0]
    assert client.post(
        f"{garment}/changes", json={"kind": one["kind"], "params": one["params"], "note": one["note"]}
    ).is_success
    last = client.get(f"{garment}/history").json()["lines"][-1]
    assert last["note"] == "It is too wide at the waist, 40 mm on the whole body: 20 mm here"


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"showing": "wings"}, "There is no advice on"),
        ({"amount_mm": 0.0}, "Say how much was pinned"),
        ({"amount_mm": 900.0}, "up to 300"),
        ({"cloth": "tin"}, "cotton and wool"),
        ({"edge": "nobody"}, "There is no edge"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_words(
    client: TestClient, garment: str, said: dict[str, Any], words: str
) -> None:
    armhole = edge(client, garment, "front", "armhole")
    whole = {"showing": "armhole-gapes", "edge": armhole["id"], "mm": 60.0, "amount_mm": 6.0, **said}
    answer = client.post(f"{garment}/advice", json=whole)
    assert answer.status_code in (400, 404), answer.text
    assert words in answer.json()["sentence"]


def test_a_garment_that_has_changed_meanwhile_is_said(client: TestClient, garment: str) -> None:
    armhole = edge(client, garment, "front", "armhole")
    said = {"showing": "armhole-gapes", "edge": armhole["id"], "mm": 60.0, "amount_mm": 6.0, "expected": 1}
    assert client.post(f"{garment}/advice", json=said).status_code == 409
