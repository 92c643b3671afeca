"""The shelf through the server: cloths typed, drawn and described, flaws, keeping, washing, letting go."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from eke.actions.room import Room
from helpers import tunic

SQUARE = [[100.0, 100.0], [160.0, 100.0], [160.0, 160.0], [100.0, 160.0]]


@pytest.fixture
def project(sewn: Room) -> str:
    return next(iter(sewn.shelf().projects))


def add(client: TestClient, **more: Any) -> str:
    said = {
        "name": "blue",
        "shape": "rectangle",
        "measures_mm": [900, 700],
        "said": {"grain_deg": 90.0},
    } | more
    done = client.post("/api/cloths", json=said)
    assert done.status_code == 200, done.text
    return str(done.json()["id"])


def cloth(client: TestClient, id_: str) -> dict[str, Any]:
    return client.get(f"/api/cloths/{id_}").json()


def test_an_empty_shelf_says_what_can_be_typed(client: TestClient) -> None:
    view = client.get("/api/shelf").json()
    assert (view["cloths"], view["gone"]) == ([], [])
    assert {s["word"]: s["measures"] for s in view["shapes"]}["round"] == ["diameter_mm"]


def test_a_cloth_from_typed_measures(client: TestClient, project: str) -> None:
    id_ = add(client, price="2.40", project=project, said={"grain_deg": 90.0, "second_hand": True})
    view = cloth(client, id_)
    assert (view["width_mm"], view["height_mm"], view["area_mm2"]) == (900.0, 700.0, 630_000.0)
    assert (view["price"], view["kept_for"], view["grain_deg"]) == ("2.40 EUR", [project], 90.0)
    assert any("used before" in a["sentence"] and "Naylor" in a["source"] for a in view["advice"])
    assert client.get("/api/shelf").json()["cloths"] == [view]


def test_a_cloth_drawn_by_hand(client: TestClient) -> None:
    id_ = add(client, shape=None, measures_mm=[], outline=[[0, 0], [300, 0], [0, 400]])
    assert cloth(client, id_)["area_mm2"] == pytest.approx(60_000.0)


@pytest.mark.parametrize(
    "wrong",
    [
        {"shape": "hexagon"},
        {"measures_mm": [900]},
        {"measures_mm": [-1, 5]},
        {"measures_mm": [9e9, 5]},
        {"outline": [[0, 0], [1, 0], [0, 1]]},
        {"shape": None},
        {"shape": None, "outline": [[0, 0], [10, 10], [10, 0], [0, 10]]},
        {"said": {"id": "mine"}},
        {"said": {"colour": "blue"}},
        {"said": {"weight_gsm": -3}},
        {"name": "  "},
        {"price": "two"},
        {"project": "nobody"},
    ],
)
def test_a_cloth_that_cannot_be_is_not_added(client: TestClient, sewn: Room, wrong: dict[str, Any]) -> None:
    before = client.get("/api/shelf").json()["revision"]
    said = {"name": "blue", "shape": "rectangle", "measures_mm": [900, 700]} | wrong
    answer = client.post("/api/cloths", json=said)
    assert answer.status_code in (400, 404)
    assert answer.json()["sentence"].endswith(".")
    assert client.get("/api/shelf").json()["revision"] == before


def test_a_cloth_is_described_anew(client: TestClient) -> None:
    id_ = add(client)
    done = client.patch(
        f"/api/cloths/{id_}", json={"said": {"name": "sky", "nap": "one-way"}, "price": "3"}
    ).json()
    assert done["id"] == id_
    view = cloth(client, id_)
    assert (view["name"], view["nap"], view["price"]) == ("sky", "one-way", "3.00 EUR")
    assert client.get("/api/shelf").json()["steps"]["undo"].startswith("Described “blue”")


def test_another_window_was_quicker(client: TestClient) -> None:
    id_ = add(client)
    seen = client.get("/api/shelf").json()["revision"]
    assert (
        client.patch(f"/api/cloths/{id_}", json={"said": {"nap": "one-way"}, "expected": seen}).status_code
        == 200
    )
    late = client.patch(f"/api/cloths/{id_}", json={"said": {"fibre": "wool"}, "expected": seen})
    assert (late.status_code, late.json()["code"]) == (409, "changed-elsewhere")
    assert cloth(client, id_)["fibre"] == ""


def test_a_flaw_is_painted_and_dropped(client: TestClient) -> None:
    id_ = add(client)
    client.post(f"/api/cloths/{id_}/flaws", json={"polygon": SQUARE, "kind": "burn", "quality": 0})
    client.post(f"/api/cloths/{id_}/flaws", json={"polygon": [[x + 200, y] for x, y in SQUARE]})
    burn, stain = cloth(client, id_)["flaws"]
    assert (burn["kind"], burn["quality"], stain["kind"], stain["quality"]) == ("burn", 0, "stain", 1)
    client.post(f"/api/cloths/{id_}/flaws/{burn['id']}/drop")
    assert cloth(client, id_)["flaws"] == [stain]
    assert client.post(f"/api/cloths/{id_}/flaws/{burn['id']}/drop").status_code == 404
    beside = client.post(f"/api/cloths/{id_}/flaws", json={"polygon": [[x + 5000, y] for x, y in SQUARE]})
    assert (beside.status_code, cloth(client, id_)["flaws"]) == (400, [stain])


def test_kept_washed_let_go_discarded(client: TestClient, project: str) -> None:
    id_ = add(client, said={"grain_deg": 90.0, "shrink_warp_percent": 5.0})
    client.post(f"/api/cloths/{id_}/keep", json={"project": project})
    assert cloth(client, id_)["kept_for"] == [project]
    assert client.post(f"/api/cloths/{id_}/discard").status_code == 409
    client.post(f"/api/cloths/{id_}/wash")
    view = cloth(client, id_)
    assert (view["washed"], view["height_mm"]) == (True, pytest.approx(665.0))
    client.post(f"/api/cloths/{id_}/let-go", json={"project": project})
    client.post(f"/api/cloths/{id_}/discard")
    shelf = client.get("/api/shelf").json()
    assert (shelf["cloths"], shelf["gone"]) == ([], ["blue"])
    assert client.get(f"/api/cloths/{id_}").status_code == 404


def test_a_cloth_that_nobody_has(client: TestClient, sewn: Room) -> None:
    assert tunic.TUNIC
    for path in ("wash", "discard"):
        assert client.post(f"/api/cloths/nobody/{path}").status_code == 404


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"grain_deg": 3.0}, "Set the grain of “blue”."),
        ({"flaws": []}, "Changed the marked places of “blue”."),
        ({"outline": [[0, 0], [800, 0], [800, 700]]}, "Moved the edge of “blue”."),
        ({"name": "sky"}, "Called “blue” “sky”."),
        ({"nap": "one-way", "weight_gsm": 120}, "Described “blue”: nap, weight gsm."),
    ],
)
def test_what_was_said_is_said_as_a_sewist_would(
    client: TestClient, said: dict[str, Any], sentence: str
) -> None:
    id_ = add(client)
    assert client.patch(f"/api/cloths/{id_}", json={"said": said}).json()["sentence"] == sentence


def test_what_a_cloth_stands(client: TestClient) -> None:
    id_ = add(client, said={"hottest_wash_deg": 60, "tumble_dry": False})
    assert (cloth(client, id_)["hottest_wash_deg"], cloth(client, id_)["tumble_dry"]) == (60, False)
