"""Both halves of a piece over the server, lengths and points that are held, and what of it the app is told."""

from __future__ import annotations

import math
from typing import Any

import pytest
from starlette.testclient import TestClient

from eke.actions.patterns import find_edge
from eke.actions.room import Room
from helpers import tunic, yoke


@pytest.fixture
def garment(sewn: Room, client: TestClient) -> str:
    """The address of a tunic with a yoke that is drawn whole."""
    yoke.take_yoke(sewn)
    del client
    return f"/api/garments/{sewn.garment(tunic.TUNIC).id}"


def change(client: TestClient, garment: str, change_kind: str, /, **params: Any) -> dict[str, Any]:
    answer = client.post(f"{garment}/changes", json={"kind": change_kind, "params": params})
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    return told


def edges(client: TestClient, garment: str, piece: str) -> dict[str, dict[str, Any]]:
    found = next(p for p in client.get(garment).json()["pieces"] if p["name"] == piece)
    return {edge["name"]: edge for edge in found["edges"]}


def test_halves_are_laid_made_the_same_and_taken_back(client: TestClient, garment: str) -> None:
    view = client.get(f"{garment}/pieces/yoke/halves").json()
    assert view["middle"]["by"] == "grain"
    assert view["middle"]["sides"] == ["left", "right"]
    assert {m["by"] for m in view["middles"]} == {"grain", "across", "fit"}
    assert {e["name"] for e in view["edges"]} == {"left", "hem", "neck"}
    assert view["greatest_mm"] == max(e["greatest_mm"] for e in view["edges"])
    # 6 mm at one corner, shared by a line that fits both
    assert 1.0 < view["greatest_mm"] < yoke.OUT_MM
    longer = next(e for e in view["edges"] if e["name"] == "left")["longer_mm"]
    assert longer == pytest.approx(math.hypot(30.0 + yoke.OUT_MM, 130.0) - math.hypot(30.0, 130.0), abs=0.01)
    before = edges(client, garment, "yoke")
    done = change(client, garment, "true.halves", piece="yoke", take="left", middle="grain")
    assert done["sentence"] == (
        f"Made both halves of “yoke” like its left half; they lay up to {view['greatest_mm']:.1f} mm apart."
    )
    after = edges(client, garment, "yoke")
    assert after["left"]["length_mm"] == before["left"]["length_mm"]
    assert after["right"]["length_mm"] == pytest.approx(after["left"]["length_mm"], abs=0.002)
    again = client.get(f"{garment}/pieces/yoke/halves").json()
    assert again["greatest_mm"] < 0.002
    assert client.post(f"{garment}/undo", json={}).status_code == 200
    assert edges(client, garment, "yoke") == before


def test_one_edge_alone_and_a_line_over_which_nothing_can_be_told(client: TestClient, garment: str) -> None:
    neck = edges(client, garment, "yoke")["neck"]["id"]
    view = client.get(f"{garment}/pieces/yoke/halves", params={"edge": neck, "middle": "edge"}).json()
    assert view["edge"] == neck
    assert [e["edge"] for e in view["edges"]] == [neck]
    assert "edge" in {m["by"] for m in view["middles"]}
    # across the grain the neck lies where the hem should: refused in words, and the other lines stay to be chosen
    across = client.get(f"{garment}/pieces/yoke/halves", params={"middle": "across"}).json()
    assert across["edges"] == []
    assert across["greatest_mm"] is None
    assert "yoke" in across["why"]
    assert len(across["middles"]) == 3
    for piece, params, status, words in (
        ("front", {}, 400, "drawn as a half on its fold"),
        ("nobody", {}, 404, "nobody"),
        ("yoke", {"edge": "nobody"}, 404, "nobody"),
        ("yoke", {"middle": "marked"}, 400, "is marked as its middle"),
        ("yoke", {"middle": "left"}, 400, ""),
    ):
        answer = client.get(f"{garment}/pieces/{piece}/halves", params=params)
        assert (answer.status_code, words in answer.json()["sentence"]) == (status, True), answer.text


def test_what_is_held_is_told_with_the_piece(client: TestClient, garment: str, sewn: Room) -> None:
    pattern = sewn.garment(tunic.TUNIC).pattern
    side, hem = find_edge(pattern, "front.side").id, find_edge(pattern, "front.hem").id
    change(
        client,
        garment,
        "mark.set",
        piece="front",
        id="w",
        kind="balance",
        name="waist",
        points=[[0, 340], [190, 340]],
    )
    change(
        client,
        garment,
        "mark.set",
        piece="front",
        id="bp",
        kind="apex",
        name="bust point",
        points=[[90, 330]],
    )
    done = change(client, garment, "true.length", edge=hem, length_mm=210.0)
    assert done["sentence"] == "Made “hem of front” 210.0 mm long, to stay so."
    done = change(client, garment, "true.on_line", edge=side, end="end", line="w")
    assert done["sentence"] == (
        "Put the corner of “front” between “side” and “armhole” on the waist line, to stay there."
    )
    change(client, garment, "true.on_line", mark="bp", line="waist")
    found = edges(client, garment, "front")
    assert (found["hem"]["held_mm"], found["side"]["held_mm"]) == (210.0, None)
    assert (found["armhole"]["start_held_on"], found["side"]["start_held_on"]) == ("the waist line", None)
    piece = next(p for p in client.get(garment).json()["pieces"] if p["id"] == "front")
    assert next(m for m in piece["marks"] if m["id"] == "bp")["held_on"] == "the waist line"
    # a later change ends it: told, with remedies that can be looked at before they are made
    change(client, garment, "corner.move", edge=hem, end="end", to=[204.0, 0.0])
    (lost,) = [f for f in client.get(garment).json()["findings"] if f["code"] == "length-held"]
    assert (lost["piece"], lost["can_settle"], lost["unit"]) == ("front", False, "mm")
    fix = lost["fixes"][0]
    ahead = client.post(f"{garment}/preview", json={"kind": fix["kind"], "params": fix["params"]}).json()
    assert ahead["solved"] >= 1
    change(client, garment, fix["kind"], **fix["params"])
    assert edges(client, garment, "front")["hem"]["length_mm"] == pytest.approx(210.0)
    done = change(client, garment, "held.drop", edge=hem)
    assert done["sentence"] == "Let “hem” of “front” be of any length."
    done = change(client, garment, "held.drop", edge=side, end="end")
    assert (
        done["sentence"] == "Let the corner of “front” between “side” and “armhole” lie off its balance line."
    )


def test_what_cannot_be_is_refused_with_what_works(client: TestClient, garment: str, sewn: Room) -> None:
    side = find_edge(sewn.garment(tunic.TUNIC).pattern, "front.side").id
    said = {"kind": "true.length", "params": {"edge": side, "length_mm": 5000.0}}
    for door in ("changes", "preview"):
        answer = client.post(f"{garment}/{door}", json=said)
        assert answer.status_code == 400
        nearest = answer.json()["facts"]["nearest_mm"]
        assert f"works is {nearest:.1f} mm" in answer.json()["sentence"]
    said["params"]["length_mm"] = nearest
    assert client.post(f"{garment}/changes", json=said).status_code == 200
