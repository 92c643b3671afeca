"""Two tracings of one piece over the server: found, laid on one another, made one, and taken back."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from eke.actions.room import Room
from helpers import tunic

WIDER_MM = 3.0
"""The second tracing's side lies so much farther out than the first's."""


def outline(wider_mm: float) -> list[dict[str, Any]]:
    corners = [(0.0, 0.0), (180.0 + wider_mm, 0.0), (150.0 + wider_mm, 260.0), (40.0, 300.0)]
    return [
        {"kind": "line", "points": [p, q]} for p, q in zip(corners, (*corners[1:], corners[0]), strict=True)
    ]


@pytest.fixture
def garment(sewn: Room, client: TestClient) -> str:
    """The address of a tunic with two tracings of a pocket, one of them lying elsewhere."""
    address = f"/api/garments/{sewn.garment(tunic.TUNIC).id}"
    for name, wider, shift in (("pocket", 0.0, 0.0), ("pocket again", WIDER_MM, 500.0)):
        rows = outline(wider)
        for row in rows:
            row["points"] = [(x + shift, y - shift) for x, y in row["points"]]
        corners = [row["points"][0] for row in rows]
        made = client.post(
            f"{address}/changes",
            json={"kind": "trace.add", "params": {"name": name, "segments": rows, "corners": corners}},
        )
        assert made.status_code == 200, made.text
    return address


def pieces(client: TestClient, garment: str) -> dict[str, dict[str, Any]]:
    return {piece["name"]: piece for piece in client.get(garment).json()["pieces"]}


def test_two_tracings_are_found_compared_and_made_one(client: TestClient, garment: str) -> None:
    there = pieces(client, garment)
    first, second = there["pocket"]["id"], there["pocket again"]["id"]
    (like,) = client.get(f"{garment}/like-pieces").json()
    assert {like["first"], like["second"]} == {first, second}
    assert 0.3 < like["apart_mm"] < WIDER_MM + 0.5
    view = client.get(f"{garment}/pieces/{first}/beside/{second}").json()
    assert (view["first"], view["second"], view["turned_over"]) == (first, second, False)
    assert [edge["edge"] for edge in view["edges"]] == [edge["id"] for edge in there["pocket"]["edges"]]
    assert view["greatest_mm"] == max(edge["greatest_mm"] for edge in view["edges"])
    for edge in view["edges"]:
        assert np.hypot(*np.subtract(edge["worst"], edge["there"])) == pytest.approx(
            edge["greatest_mm"], abs=0.01
        )
        assert len(edge["line"]) >= 2
    bottom = view["edges"][0]
    assert bottom["longer_mm"] == pytest.approx(WIDER_MM, abs=0.01)
    said = {
        "kind": "trace.combine",
        "params": {"piece": first, "other": second, "turned_over": False, "apart_mm": 2.1},
    }
    done = client.post(f"{garment}/changes", json=said).json()
    assert done["sentence"].startswith("Took the mean of two tracings of")
    assert "pocket again" not in pieces(client, garment)
    one = pieces(client, garment)["pocket"]["edges"][0]
    assert one["length_mm"] == pytest.approx(180.0 + WIDER_MM / 2.0, abs=0.3)
    assert client.post(f"{garment}/undo", json={}).status_code == 200
    assert "pocket again" in pieces(client, garment)


def test_what_is_no_second_tracing_is_refused_in_words(client: TestClient, garment: str) -> None:
    there = pieces(client, garment)
    pocket = there["pocket"]["id"]
    other = next(piece["id"] for name, piece in there.items() if "pocket" not in name)
    for path, status, words in (
        (f"pieces/{pocket}/beside/{pocket}", 400, "not with itself"),
        (f"pieces/{pocket}/beside/{other}", 400, "hardly the same piece"),
        (f"pieces/{pocket}/beside/nobody", 404, "nobody"),
    ):
        answer = client.get(f"{garment}/{path}")
        assert (answer.status_code, words in answer.json()["sentence"]) == (status, True), answer.text
