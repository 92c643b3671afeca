"""The lay through the server: watched as it improves, by hand, stopped, what is given up, cut."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Polygon
from starlette.testclient import TestClient

from eke.actions import cloths
from eke.actions.room import Room, open_room
from eke.web.app import make_app
from eke.web.house import House, make_house
from helpers import tunic

KEYS = ("id", "piece", "cloth", "x_mm", "y_mm", "turn_deg", "mirrored", "locked")


@pytest.fixture
def garment(sewn: Room) -> str:
    words = {
        "grain_deg": 30.0,
        "washed": True,
    }  # a cloth that lies aslant, so that its frame is not the lay's
    outline = affinity.rotate(Polygon([(0, 0), (1000, 0), (1000, 700), (0, 700)]), -60, origin=(0, 0))
    cloths.add_cloth(sewn, "blue", list(outline.exterior.coords)[:-1], **words)
    cloths.reserve_cloth(sewn, "blue", tunic.PROJECT)
    return sewn.garment(tunic.TUNIC).id


def lay(client: TestClient, garment: str, seconds: float = 1.0, **said: Any) -> dict[str, Any]:
    """Lay in a worker and wait for the end; return the job as it was seen last."""
    started = client.post(f"/api/garments/{garment}/lay", json={"seconds": seconds, **said})
    assert started.status_code == 200, started.text
    return ended(client, started.json()["id"])


def ended(client: TestClient, job: str) -> dict[str, Any]:
    until = time.monotonic() + 120
    while time.monotonic() < until:
        view = next(j for j in client.get("/api/jobs").json() if j["id"] == job)
        if view["state"] in ("done", "stopped", "failed"):
            return view
        time.sleep(0.05)
    raise AssertionError("the lay did not end")


def placements(view: dict[str, Any]) -> list[dict[str, Any]]:
    return [{key: one[key] for key in KEYS} for one in view["laid"]]


def test_before_the_first_lay(client: TestClient, garment: str) -> None:
    view = client.get(f"/api/garments/{garment}/lay").json()
    assert (view["laid"], view["complete"], view["sentence"]) == ([], False, "2 pieces wait to be laid.")
    assert [p["id"] for p in view["cut_pieces"]] == ["front/outer", "back/outer"]
    assert [(m["piece"], m["count"]) for m in view["missing"]] == [("front/outer", 1), ("back/outer", 1)]
    assert [c["name"] for c in view["cloths"]] == ["blue"]
    assert client.get(f"/api/garments/{garment}/lay?roles=lining").json()["cut_pieces"] == []
    assert client.get(f"/api/garments/{garment}/lay?roles=velvet").status_code == 400
    assert client.get("/api/garments/nobody/lay").status_code == 404


def test_a_cut_piece_lies_with_its_grain_upright(client: TestClient, garment: str, room: Room) -> None:
    view = client.get(f"/api/garments/{garment}/lay").json()
    piece = view["cut_pieces"][0]
    assert Polygon(piece["outline"]).contains(Polygon(piece["net"]))
    assert (piece["turns_deg"], piece["tilt_deg"], piece["may_mirror"]) == ([0.0, 180.0], 0.0, False)
    assert (piece["hidden"], piece["least_quality"]) == (False, 3)


def test_the_lay_is_worked_out_in_a_worker_and_kept(client: TestClient, garment: str) -> None:
    job = lay(client, garment)
    assert job["state"] == "done"
    view = client.get(f"/api/garments/{garment}/lay").json()
    assert job["result"] == view
    assert job["sentence"] == view["sentence"]
    assert (view["complete"], view["stale"], len(view["laid"])) == (True, [], 2)
    assert (view["on_percent"], [one["cloth"] for one in view["leftovers"]]) == (
        100.0,
        [view["cloths"][0]["id"]],
    )
    pieces_mm2 = sum(Polygon(one["outline"]).area for one in view["laid"])
    assert view["leftovers"][0]["area_mm2"] == pytest.approx(
        view["cloths"][0]["area_mm2"] - pieces_mm2, rel=1e-4
    )
    assert view["seconds"] is None or view["seconds"] > 0.0
    drawn = {p["id"]: Polygon(p["outline"]) for p in view["cut_pieces"]}
    ground = Polygon(view["cloths"][0]["outline"])
    for one in view[
        "laid"
    ]:  # the outline is the drawn piece turned and moved, and lies on the cloth, on its grain
        shape = affinity.rotate(drawn[one["piece"]], one["turn_deg"], origin=(0, 0))
        shape = affinity.translate(shape, one["x_mm"], one["y_mm"])
        assert shape.hausdorff_distance(Polygon(one["outline"])) < 0.01
        assert ground.buffer(0.01).contains(Polygon(one["outline"]))
        assert round(90.0 + one["turn_deg"] - 30.0) % 180 == 0


def test_by_hand_checked_and_kept(client: TestClient, garment: str) -> None:
    lay(client, garment)
    path = f"/api/garments/{garment}/lay"
    view = client.get(path).json()
    places = placements(view)
    assert client.post(f"{path}/check", json={"placements": places}).json()["faults"] == []
    wrong = [dict(p) for p in places]
    wrong[0]["x_mm"] += 3000.0
    checked = client.post(f"{path}/check", json={"placements": wrong}).json()
    assert [(f["kind"], f["pieces"]) for f in checked["faults"]] == [("outside", [wrong[0]["id"]])]
    assert client.get(path).json() == view
    refused = client.put(path, json={"placements": wrong})
    assert (refused.status_code, refused.json()["code"]) == (409, "conflict")
    assert refused.json()["facts"]["faults"] == checked["faults"]
    assert client.get(path).json() == view
    places[0]["locked"] = True
    kept = client.put(path, json={"placements": places}).json()
    assert [one["locked"] for one in kept["laid"]] == [True, False]
    assert client.get(path).json() == kept
    fewer = client.put(path, json={"placements": places[:1]}).json()
    assert (fewer["complete"], len(fewer["missing"]), fewer["seconds"]) == (False, 1, None)
    assert 0.0 < fewer["on_percent"] < 100.0


@pytest.mark.parametrize(
    "wrong", [{"x_mm": "left"}, {"x_mm": None}, {"colour": "red"}, {"cloth": "nobody"}, {"id": "x"}]
)
def test_nonsense_by_hand(client: TestClient, garment: str, wrong: dict[str, Any]) -> None:
    view = client.get(f"/api/garments/{garment}/lay").json()
    cloth = view["cloths"][0]["id"]
    place = {
        "id": "front/outer#1",
        "piece": "front/outer",
        "cloth": cloth,
        "x_mm": 0,
        "y_mm": 0,
        "turn_deg": 0,
    } | wrong
    for method, path in (("POST", "lay/check"), ("PUT", "lay")):
        answer = client.request(method, f"/api/garments/{garment}/{path}", json={"placements": [place]})
        assert answer.status_code == 400
        assert answer.json()["sentence"].endswith(".")


def test_locked_pieces_stay(client: TestClient, garment: str) -> None:
    lay(client, garment)
    view = client.get(f"/api/garments/{garment}/lay").json()
    places = placements(view)
    places[0]["locked"] = True
    after = lay(client, garment, seed=5, keep=places[:1])["result"]
    stayed = next(one for one in after["laid"] if one["id"] == places[0]["id"])
    np.testing.assert_allclose(stayed["outline"], view["laid"][0]["outline"], atol=2e-3)
    assert stayed["locked"]
    places[0]["y_mm"] += 4000.0
    refused = client.post(f"/api/garments/{garment}/lay", json={"keep": places[:1]})
    assert (refused.status_code, refused.json()["facts"]["faults"][0]["kind"]) == (409, "outside")


def test_a_stopped_lay_is_kept(client: TestClient, sewn: Room) -> None:
    """Too little cloth, so that it would look for a minute; stopped once it has something."""
    cloths.add_cloth(
        sewn, "scrap", cloths.typed_outline("rectangle", [470, 560]), grain_deg=90.0, washed=True
    )
    cloths.reserve_cloth(sewn, "scrap", tunic.PROJECT)
    garment = sewn.garment(tunic.TUNIC).id
    started = client.post(f"/api/garments/{garment}/lay", json={"seconds": 60}).json()
    until = time.monotonic() + 60
    while time.monotonic() < until:
        view = next(j for j in client.get("/api/jobs").json() if j["id"] == started["id"])
        if view["result"] is not None:
            break
        time.sleep(0.05)
    assert len(view["result"]["laid"]) == 1
    client.post(f"/api/jobs/{started['id']}/stop")
    assert ended(client, started["id"])["state"] == "stopped"
    kept = client.get(f"/api/garments/{garment}/lay").json()
    assert (len(kept["laid"]), kept["complete"]) == (1, False)
    ways = client.get(f"/api/garments/{garment}/lay/stints").json()
    assert [w["harm"] for w in ways] == sorted(w["harm"] for w in ways)
    given = next(w for w in ways if w["kind"] == "second cloth" and w["enough"])
    after = lay(client, garment, stints=[given["id"]])["result"]
    assert (after["complete"], [s["id"] for s in after["given_up"]]) == (True, [given["id"]])
    unknown = client.post(f"/api/garments/{garment}/lay", json={"stints": ["nobody"]})
    assert unknown.status_code == 400


def test_another_way_leaves_the_lay_before_beside_it_to_be_taken_back(
    client: TestClient, garment: str
) -> None:
    path = f"/api/garments/{garment}/lay"
    assert client.post(f"{path}/exchange", json={}).status_code == 404
    first = lay(client, garment)["result"]
    assert (first["beside"], first["made"]) == (None, 1)
    places = placements(first)
    places[-1]["x_mm"] += 1.5  # along the cloth, so that another search surely finds another lay
    moved = client.put(path, json={"placements": places})
    if moved.status_code == 409:
        places[-1]["x_mm"] -= 3.0
        moved = client.put(path, json={"placements": places})
    by_hand = moved.json()
    assert (by_hand["made"], by_hand["beside"]) == (1, None)
    second = lay(client, garment, seed=first["seed"] + 1)["result"]
    assert second["made"] == 2
    beside = second["beside"]
    assert beside["laid"] == by_hand["laid"]
    assert (beside["sentence"], beside["complete"], beside["on_percent"]) == (
        by_hand["sentence"],
        True,
        100.0,
    )
    assert (beside["stale"], beside["given_up"], beside["cut"]) == ([], [], False)
    assert [c["id"] for c in beside["cloths"]] == sorted({one["cloth"] for one in by_hand["laid"]})
    back = client.post(f"{path}/exchange", json={"roles": ["outer"]}).json()
    assert (back["laid"], back["beside"]["laid"]) == (by_hand["laid"], second["laid"])
    assert (back["made"], back["beside"]["made"]) == (1, 2)
    assert client.get(path).json() == back
    assert client.post(f"{path}/exchange", json={"roles": ["lining"]}).status_code == 404


def test_going_on_keeps_what_lies_there(client: TestClient, sewn: Room) -> None:
    """One of two pieces is on, by hand, in the middle of the cloth; the search goes on from there."""
    cloths.add_cloth(
        sewn, "wide", cloths.typed_outline("rectangle", [1800, 800]), grain_deg=90.0, washed=True
    )
    cloths.reserve_cloth(sewn, "wide", tunic.PROJECT)
    garment = sewn.garment(tunic.TUNIC).id
    path = f"/api/garments/{garment}/lay"
    done = lay(client, garment)["result"]
    one = client.put(path, json={"placements": placements(done)[:1]}).json()
    on = lay(client, garment, keep=placements(one))["result"]
    assert on["complete"]
    stayed = next(p for p in on["laid"] if p["id"] == one["laid"][0]["id"])
    assert (stayed["x_mm"], stayed["y_mm"]) == pytest.approx(
        (one["laid"][0]["x_mm"], one["laid"][0]["y_mm"]), abs=1.0
    )
    assert (stayed["locked"], on["beside"]["laid"]) == (False, one["laid"])


def test_an_old_lay_says_which_pieces_break_a_rule_now(client: TestClient, garment: str, room: Room) -> None:
    first = lay(client, garment)["result"]
    one = first["laid"][0]
    x, y = np.array(one["outline"]).mean(axis=0)
    burn = [[x - 15, y - 15], [x + 15, y - 15], [x + 15, y + 15], [x - 15, y + 15]]
    cloths.describe_cloth(room, one["cloth"], holes=[burn])
    view = client.get(f"/api/garments/{garment}/lay").json()
    assert view["stale"]
    assert {tuple(fault["pieces"]) for fault in view["faults"]} == {(one["id"],)}


def test_stripes_meet_at_the_balance_lines(client: TestClient, garment: str, room: Room) -> None:
    """Front and back have a waist line each, at heights that differ by 7 mm; the stripes come every 60 mm."""
    path = f"/api/garments/{garment}/lay"
    assert client.get(path).json()["stripe_lines"] == []
    for piece, y in (("front", 300.0), ("back", 307.0)):
        mark = {"piece": piece, "kind": "balance", "points": [[0, y], [150, y]], "name": "Waist"}
        room.change_garment(garment, "mark.set", mark)
    cloths.describe_cloth(room, "blue", repeat_mm=[60.0, None])
    assert client.get(path).json()["stripe_lines"] == ["waist"]

    def apart_mm(view: dict[str, Any]) -> float:
        """How far the two waist lines miss each other, along the warp, which lies aslant at 30 degrees."""
        heights = {"front/outer": 300.0, "back/outer": 307.0}
        at = []
        for one in view["laid"]:
            sign = round(np.cos(np.radians(one["turn_deg"] + 60.0)))  # upright or upside down
            along = one["x_mm"] * np.cos(np.radians(30.0)) + one["y_mm"] * np.sin(np.radians(30.0))
            at.append(along + sign * heights[one["piece"]])
        return float(abs(np.remainder(at[0] - at[1] + 30.0, 60.0) - 30.0))

    view = lay(client, garment, match_stripes=True)["result"]
    assert (view["complete"], view["match_stripes"], view["faults"]) == (True, True, [])
    assert apart_mm(view) < 1.6
    assert client.get(path).json() == view
    places = placements(view)
    for way in (2.5, -2.5):  # 5 mm along the warp, to the side where there is room
        moved = [dict(place) for place in places]
        moved[0]["x_mm"] += way * 2 * np.cos(np.radians(30.0))
        moved[0]["y_mm"] += way * 2 * np.sin(np.radians(30.0))
        kept = client.put(path, json={"placements": moved})
        if kept.status_code == 200:
            break
    askew = kept.json()
    assert askew["match_stripes"]
    assert [(f["kind"], sorted(f["pieces"])) for f in askew["faults"]] == [
        ("stripes", ["back/outer#1", "front/outer#1"])
    ]
    assert "miss each other" in askew["faults"][0]["sentence"]
    for one in moved:
        one["locked"] = True
    refused = client.post(path, json={"keep": moved, "match_stripes": True})
    assert (refused.status_code, refused.json()["facts"]["faults"][0]["kind"]) == (409, "stripes")
    plain = lay(client, garment)["result"]
    assert (plain["match_stripes"], plain["faults"]) == (False, [])


def test_what_is_left_is_said_where_it_lies(client: TestClient, garment: str) -> None:
    view = lay(client, garment)["result"]
    ground = Polygon(view["cloths"][0]["outline"]).buffer(0.01)
    rest = Polygon(view["leftovers"][0]["outline"])
    assert ground.contains(rest)
    assert rest.area == pytest.approx(
        view["leftovers"][0]["width_mm"] * view["leftovers"][0]["height_mm"], rel=1e-3
    )
    for one in view["laid"]:
        assert rest.intersection(Polygon(one["outline"])).area < 1.0


def test_nothing_to_lay_on_is_said_before_a_job_begins(client: TestClient, sewn: Room) -> None:
    garment = sewn.garment(tunic.TUNIC).id
    answer = client.post(f"/api/garments/{garment}/lay", json={})
    assert (answer.status_code, client.get("/api/jobs").json()) == (400, [])
    assert "No cloth is kept" in answer.json()["sentence"]


def test_cut_and_taken_back(client: TestClient, garment: str, room: Room) -> None:
    assert client.post(f"/api/garments/{garment}/lay/confirm", json={}).status_code == 404
    lay(client, garment)
    done = client.post(f"/api/garments/{garment}/lay/confirm", json={"roles": ["outer"]}).json()
    assert done["sentence"].startswith("Cut 2 pieces for “Tunic” from “blue”")
    view = client.get(f"/api/garments/{garment}/lay").json()
    assert (view["cut"], view["stale"], [c["name"] for c in view["cloths"]]) == (True, [], ["blue"])
    assert (
        client.put(f"/api/garments/{garment}/lay", json={"placements": placements(view)}).status_code == 409
    )
    from eke.actions import history

    history.take_back(room)
    assert not client.get(f"/api/garments/{garment}/lay").json()["cut"]


def test_a_server_that_dies_keeps_the_lay(client: TestClient, house: House, garment: str) -> None:
    lay(client, garment)
    view = client.get(f"/api/garments/{garment}/lay").json()
    client.post(f"/api/garments/{garment}/lay", json={"seconds": 60, "seed": 3})
    house.close()
    house.room.close()
    with open_room(house.room.folder) as room:
        other = make_house(room, port=house.port)
        with TestClient(
            make_app(other), base_url=other.origin, headers={"Origin": other.origin, "X-Eke": "1"}
        ) as c:
            c.get("/", params={"key": other.key})
            after = c.get(f"/api/garments/{garment}/lay").json()
        other.close()
    assert after["complete"]
    assert {one["id"] for one in after["laid"]} == {one["id"] for one in view["laid"]}
