"""The first screen, projects, the workroom's door, the safe copy."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from eke import __version__
from eke.actions import history, projects
from eke.actions.room import Room, open_room
from helpers import tunic

from .test_garments import KEYS, anything


def test_an_empty_workroom(client: TestClient, room: Room) -> None:
    view = client.get("/api/workroom").json()
    assert (view["projects"], view["cloths"], view["version"]) == ([], 0, __version__)
    assert view["folder"] == str(room.folder)
    assert view["steps"] == {"undo": None, "redo": None}


def test_from_nothing_to_a_garment(client: TestClient) -> None:
    project = client.post("/api/projects", json={"name": "Summer", "budget": "12"}).json()
    assert project["sentence"] == "Began the project “Summer” with a budget of 12.00 EUR."
    facts = {"wearer_age_years": 9}
    entered = client.post(
        f"/api/projects/{project['id']}/garments", json={"name": "Tunic", "facts": facts}
    ).json()
    (card,) = client.get("/api/workroom").json()["projects"]
    assert (card["id"], card["budget"], card["left"]) == (project["id"], "12.00 EUR", "12.00 EUR")
    assert card["garments"] == [
        {"id": entered["id"], "name": "Tunic", "pieces": 0, "attention": 0, "picture": None}
    ]
    garment = client.get(f"/api/garments/{entered['id']}").json()
    assert (garment["facts"], garment["project_name"], garment["pieces"]) == (facts, "Summer", [])


def test_a_project_without_money_is_on_the_table(client: TestClient) -> None:
    client.post("/api/projects", json={"name": "Winter"})
    (card,) = client.get("/api/workroom").json()["projects"]
    assert (card["name"], card["budget"], card["left"]) == ("Winter", None, None)


def test_a_card_shows_the_pieces_and_what_asks_for_attention(client: TestClient, sewn: Room) -> None:
    (card,) = client.get("/api/workroom").json()["projects"][0]["garments"]
    view = client.get(f"/api/garments/{card['id']}").json()
    assert card["attention"] == sum(f["severity"] != "note" for f in view["findings"]) > 0
    assert card["pieces"] == 2
    assert [line["ink"] for line in card["picture"]["lines"]] == ["piece", "piece"]


def test_the_table_is_laid_quickly_again_after_a_start(client: TestClient, sewn: Room) -> None:
    """The card was kept: it is shown without the pattern being replayed."""
    first = client.get("/api/workroom").json()
    sewn.garment_kinds = type(sewn.garment_kinds)()  # a program that cannot replay anything
    assert client.get("/api/workroom").json() == first


@pytest.mark.parametrize(
    ("address", "body", "code"),
    [
        ("/api/projects", {"name": "  "}, "bad-input"),
        ("/api/projects", {"name": "x" * 200}, "bad-input"),
        ("/api/projects", {"name": "x", "budget": "many"}, "bad-input"),
        ("/api/projects", {"name": "x", "budget": "5", "currency": "ZZZ"}, "bad-input"),
        ("/api/projects", {"name": 5}, "bad-input"),
        ("/api/projects", {"name": "x", "colour": "red"}, "bad-input"),
        ("/api/projects", {"name": "\ud800"}, "bad-input"),
        ("/api/projects/nothing/garments", {"name": "x"}, "not-found"),
        ("/api/workroom/changes", {"kind": "make.tea"}, "bad-input"),
        ("/api/workroom/changes", {"kind": "garment.enter", "params": {}}, "bad-input"),
        ("/api/workroom/changes", {"kind": "budget.set", "params": {"project": "nothing"}}, None),
    ],
)
def test_what_cannot_be_begun(
    client: TestClient, room: Room, address: str, body: Any, code: str | None
) -> None:
    answer = client.post(address, content=json.dumps(body), headers={"Content-Type": "application/json"})
    assert 400 <= answer.status_code < 500
    assert set(answer.json()) == {"code", "sentence", "facts"}
    assert code is None or answer.json()["code"] == code
    assert room.shelf().projects == {}


def test_garbage_in_the_workroom_is_refused_in_a_sentence(client: TestClient, sewn: Room) -> None:
    kinds = sorted(k.name for k in sewn.workroom_kinds)
    ids = [*sewn.shelf().projects, sewn.garment(tunic.TUNIC).id]
    square = {"id": "c", "name": "blue", "outline": [[0, 0], [500, 0], [500, 400], [0, 400]]}

    @settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow])
    @given(
        st.sampled_from(kinds),
        st.dictionaries(st.sampled_from(KEYS), anything | st.sampled_from(ids) | st.just(square), max_size=6),
    )
    def holds(kind: str, params: dict[str, Any]) -> None:
        before = sewn.stored(None).revision
        answer = client.post(
            "/api/workroom/changes",
            content=json.dumps({"kind": kind, "params": params}),
            headers={"Content-Type": "application/json"},
        )
        assert answer.status_code in (200, 400, 404, 409, 422), answer.text
        if answer.status_code == 200:
            assert client.get("/api/workroom").status_code == 200
            assert client.get("/api/workroom/history").status_code == 200
            history.take_back(sewn)
        else:
            assert "mistake" not in answer.json()["sentence"], (kind, params, answer.text)
            assert sewn.stored(None).revision == before

    holds()


def test_the_safe_copy_restores_to_an_equal_workroom(client: TestClient, sewn: Room, tmp_path: Path) -> None:
    answer = client.get("/api/backup")
    assert answer.headers["content-type"] == "application/zip"
    assert ".zip" in answer.headers["content-disposition"]
    assert zipfile.ZipFile(io.BytesIO(answer.content)).testzip() is None
    file = tmp_path / "copy.zip"
    file.write_bytes(answer.content)
    projects.restore(file, tmp_path / "again")
    with open_room(tmp_path / "again") as again:
        assert again.shelf() == sewn.shelf()
        assert again.garment(tunic.TUNIC).pattern == sewn.garment(tunic.TUNIC).pattern
