"""Histories over the server: undo and redo to the start and back, switching off, other numbers, small pictures."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from eke.actions import projects
from eke.actions.room import Room
from helpers import tunic

TUNIC = tunic.TUNIC


@pytest.fixture
def garment(sewn: Room, client: TestClient) -> str:
    """The address of a sewn tunic."""
    return f"/api/garments/{sewn.garment(TUNIC).id}"


def post(client: TestClient, address: str, said: Mapping[str, Any]) -> Any:
    answer = client.post(address, json=said)
    assert answer.status_code == 200, answer.text
    return answer.json()


def change(client: TestClient, garment: str, kind: str, params: Mapping[str, Any], note: str = "") -> Any:
    return post(client, f"{garment}/changes", {"kind": kind, "params": params, "note": note})


def as_it_stands(client: TestClient, garment: str) -> dict[str, Any]:
    """All that a window shows of a garment, but for how often it was changed and what redo would do."""
    view = client.get(garment).json()
    return {key: value for key, value in view.items() if key not in ("revision", "steps")}


def edge(client: TestClient, garment: str, piece: str, number: int) -> str:
    pieces = {p["name"]: p for p in client.get(garment).json()["pieces"]}
    return str(pieces[piece]["edges"][number]["id"])


def take_in(client: TestClient, garment: str, mm: float = 8.0, note: str = "") -> Any:
    seam = client.get(garment).json()["seams"][0]["id"]
    params = {"seam": seam, "knots": [[0, 0], [150, mm], [340, 0]]}
    return change(client, garment, "fit.take_in", params, note)


# ---------------------------------------------------------------- to the start and back

tries = st.one_of(
    st.tuples(st.just("take_in"), st.floats(-12, 12).filter(lambda x: abs(x) > 0.5)),
    st.tuples(st.just("straighten"), st.integers(0, 5)),
    st.tuples(st.just("fair"), st.integers(0, 5)),
    st.tuples(st.just("share"), st.floats(0, 1)),
    st.tuples(st.just("name"), st.text(min_size=1, max_size=12).filter(str.strip)),
    st.tuples(st.just("allowance"), st.floats(0, 60)),
    st.tuples(st.just("notch"), st.floats(0.05, 0.95)),
    st.tuples(st.just("split"), st.floats(0.2, 0.8)),
    st.tuples(st.just("corner"), st.floats(-15, 15)),
    st.tuples(st.just("facing"), st.floats(20, 90)),
    st.tuples(st.just("dart"), st.floats(4, 30)),
    st.tuples(st.just("drop seam"), st.integers(0, 1)),
    st.tuples(st.just("drop piece"), st.sampled_from(["front", "back"])),
    st.tuples(st.just("undo"), st.none()),
    st.tuples(st.just("switch"), st.integers(0, 30)),
)


def said_of(view: Mapping[str, Any], what: str, value: Any) -> tuple[str, dict[str, Any]] | None:
    """A change in the words of the server, of what is there now; nothing where there is nothing to change."""
    if not view["pieces"]:
        return None
    piece = view["pieces"][0]
    edges = [e["id"] for e in piece["edges"]]
    side = edges[1]
    seams = [s["id"] for s in view["seams"]]
    if what in ("take_in", "share", "drop seam") and not seams:
        return None
    ways: dict[str, Any] = {
        "take_in": lambda: ("fit.take_in", {"seam": seams[0], "knots": [[0, 0], [30, value], [60, 0]]}),
        "straighten": lambda: ("true.straighten", {"edge": edges[value % len(edges)]}),
        "fair": lambda: ("true.fair", {"edge": edges[value % len(edges)]}),
        "share": lambda: ("true.share", {"seam": seams[0], "share_a": value}),
        "name": lambda: ("piece.rename", {"piece": piece["id"], "name": value}),
        "allowance": lambda: ("edge.set", {"edge": side, "allowance_mm": value}),
        "notch": lambda: ("notch.set", {"edge": side, "fraction": value}),
        "split": lambda: ("edge.split", {"edge": side, "fraction": value}),
        "corner": lambda: ("corner.move", {"edge": side, "end": "start", "to": [200 + value, value / 3]}),
        "facing": lambda: (
            "recipe.add",
            {"recipe": "facing", "name": "facing", "params": {"edges": [edges[-2]], "width_mm": value}},
        ),
        "dart": lambda: (
            "fit.add_dart",
            {"edge": edges[0], "fraction": 0.5, "intake_mm": value, "apex": [100, 150]},
        ),
        "drop seam": lambda: ("seam.drop", {"seam": seams[value % len(seams)]}),
        "drop piece": lambda: ("piece.drop", {"piece": value}),
    }
    made: tuple[str, dict[str, Any]] = ways[what]()
    return made


def test_undo_to_the_start_and_redo_to_the_end(client: TestClient, sewn: Room) -> None:
    """Whatever was done, taking all back gives the empty garment and doing all again gives what was there."""

    @settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow])
    @given(st.lists(tries, min_size=1, max_size=7))
    def holds(steps: list[tuple[str, Any]]) -> None:
        made = projects.enter_garment(sewn, tunic.PROJECT, "another").id
        tunic.take_tunic(sewn, made)
        tunic.sew_tunic(sewn, made)
        garment = f"/api/garments/{made}"
        for what, value in steps:
            if what == "undo":
                client.post(f"{garment}/undo", json={})
                continue
            if what == "switch":
                lines = [x for x in client.get(f"{garment}/history").json()["lines"] if not x["undone"]]
                line = lines[value % len(lines)]
                address = f"{garment}/history/{line['id']}/switch"
                assert client.post(address, json={"on": not line["on"]}).status_code == 200
                continue
            said = said_of(client.get(garment).json(), what, value)
            if said is None:
                continue
            before = as_it_stands(client, garment)
            preview = client.post(f"{garment}/preview", json={"kind": said[0], "params": said[1]})
            answer = client.post(f"{garment}/changes", json={"kind": said[0], "params": said[1]})
            if answer.status_code != 200:
                assert answer.json()["code"] in ("bad-input", "conflict", "not-found"), answer.text
                assert as_it_stands(client, garment) == before
                if (
                    said[0] != "recipe.add"
                ):  # the preview of a facing that cannot be made says so in a finding
                    assert preview.status_code == answer.status_code
            else:
                assert preview.json()["sentence"] == answer.json()["sentence"]
        end = as_it_stands(client, garment)
        words, count = [], 0
        while (answer := client.post(f"{garment}/undo", json={})).status_code == 200:
            words.append(answer.json()["sentence"])
            count += 1
        assert answer.json()["code"] == "conflict"
        assert client.get(garment).json()["pieces"] == []
        assert client.get(garment).json()["steps"]["undo"] is None
        again = [post(client, f"{garment}/redo", {})["sentence"] for _ in range(count)]
        assert [w.removeprefix("Taken back: ") for w in reversed(words)] == [
            a.removeprefix("Done again: ") for a in again
        ]
        assert as_it_stands(client, garment) == end

    holds()


def test_sentences_of_taking_back_and_doing_again(client: TestClient, garment: str) -> None:
    side = edge(client, garment, "front", 1)
    change(client, garment, "true.straighten", {"edge": side})
    back = post(client, f"{garment}/undo", {})
    assert back["sentence"] == "Taken back: Straightened “side of front”."
    steps = client.get(garment).json()["steps"]
    assert steps == {"undo": "Said how “shoulder” is sewn", "redo": "Straightened “side of front”"}
    again = post(client, f"{garment}/redo", {"expected": back["revision"]})
    assert again["sentence"] == "Done again: Straightened “side of front”."


# ---------------------------------------------------------------- lines and pictures


def test_the_lines_of_a_history(client: TestClient, garment: str) -> None:
    done = take_in(client, garment, note="too wide at the waist")
    post(client, f"{garment}/undo", {})
    told = client.get(f"{garment}/history").json()
    assert told["revision"] == client.get(garment).json()["revision"]
    last = told["lines"][-1]
    assert (last["id"], last["undone"], last["kind"]) == (done["id"], True, "fit.take_in")
    assert last["note"] == "too wide at the waist"
    assert last["params"]["knots"] == [[0, 0], [150, 8], [340, 0]]
    assert all(line["picture"] is None for line in told["lines"])
    assert all("segments" not in line["params"] for line in told["lines"])
    assert told["steps"]["redo"] == "Took in side by up to 8 mm"


def test_pictures_where_they_are_asked_for(client: TestClient, garment: str) -> None:
    done = take_in(client, garment)
    lines = {x["id"]: x for x in client.get(f"{garment}/history?pictures=true").json()["lines"]}
    drawn = lines[done["id"]]["picture"]
    assert {line["ink"] for line in drawn["lines"]} == {"note", "piece", "attention"}
    assert len(json.dumps(drawn)) < 9000
    assert [x["kind"] for x in lines.values() if x["picture"] is None] == ["fact.set", "seam.say", "seam.say"]


def test_one_step_before_and_after(client: TestClient, garment: str) -> None:
    done = take_in(client, garment)
    step = client.get(f"{garment}/history/{done['id']}").json()
    assert step["ruler"]
    assert {c["name"] for c in step["changes"]} == {"front", "back"}
    view = client.get(garment).json()
    assert {c["id"]: c["after"] for c in step["changes"]} == {p["id"]: p for p in view["pieces"]}
    post(client, f"{garment}/undo", {})
    was = client.get(garment).json()
    assert {c["id"]: c["before"] for c in step["changes"]} == {p["id"]: p for p in was["pieces"]}


# ---------------------------------------------------------------- off, on, other numbers


def test_switching_off_and_on(client: TestClient, garment: str) -> None:
    was = as_it_stands(client, garment)["pieces"]
    done = take_in(client, garment)
    taken = as_it_stands(client, garment)["pieces"]
    switched = post(client, f"{garment}/history/{done['id']}/switch", {"on": False})
    assert switched["sentence"] == "Switched off: “Took in side by up to 8 mm”."
    assert as_it_stands(client, garment)["pieces"] == was
    (line,) = [x for x in client.get(f"{garment}/history").json()["lines"] if x["id"] == done["id"]]
    assert not line["on"]
    post(client, f"{garment}/history/{done['id']}/switch", {"on": True})
    assert as_it_stands(client, garment)["pieces"] == taken


def test_what_loses_its_place_is_said_and_comes_back(client: TestClient, garment: str) -> None:
    take_in(client, garment)
    lines = client.get(f"{garment}/history").json()["lines"]
    said = next(x for x in lines if x["sentence"] == "Said how “side” is sewn")
    off = post(client, f"{garment}/history/{said['id']}/switch", {"on": False})
    assert len(off["unsettled"]) == 1
    aside = [x for x in client.get(f"{garment}/history").json()["lines"] if x["set_aside"]]
    assert [x["sentence"] for x in aside] == ["Took in side by up to 8 mm"]
    assert "set-aside" in [f["code"] for f in client.get(garment).json()["findings"]]
    post(client, f"{garment}/undo", {})
    assert not any(x["set_aside"] for x in client.get(f"{garment}/history").json()["lines"])


def test_other_numbers(client: TestClient, garment: str) -> None:
    done = take_in(client, garment)
    knots = [[0, 0], [150, 14], [340, 0]]
    amended = post(client, f"{garment}/history/{done['id']}/amend", {"params": {"knots": knots}})
    assert "to “Took in side by up to 14 mm”" in amended["sentence"]
    wide = as_it_stands(client, garment)["pieces"]
    post(client, f"{garment}/undo", {})
    post(client, f"{garment}/undo", {})
    take_in(client, garment, 14.0)
    assert as_it_stands(client, garment)["pieces"] == wide


def test_steps_on_an_older_state_are_refused(client: TestClient, garment: str) -> None:
    seen = client.get(garment).json()["revision"]
    done = take_in(client, garment)
    for address, body in (
        (f"{garment}/history/{done['id']}/switch", {"on": False, "expected": seen}),
        (f"{garment}/history/{done['id']}/amend", {"params": {"share_a": 1}, "expected": seen}),
    ):
        answer = client.post(address, json=body)
        assert (answer.status_code, answer.json()["code"]) == (409, "changed-elsewhere")
        assert "Took in side by up to 8 mm." in answer.json()["sentence"]
    assert client.get(garment).json()["revision"] == seen + 1


@pytest.mark.parametrize("door", ["switch", "amend"])
def test_a_step_that_is_not_there(client: TestClient, garment: str, door: str) -> None:
    body = {"on": True} if door == "switch" else {"params": {}}
    answer = client.post(f"{garment}/history/nothing/{door}", json=body)
    assert (answer.status_code, answer.json()["code"]) == (409, "conflict")


# ---------------------------------------------------------------- the workroom's own history


def test_the_workrooms_history_is_another_one(client: TestClient, garment: str, sewn: Room) -> None:
    square = {"name": "blue", "outline": [[0, 0], [500, 0], [500, 400], [0, 400]]}
    own = client.get(f"{garment}/history").json()
    made = post(client, "/api/workroom/changes", {"kind": "cloth.add", "params": {"cloth": square}})
    assert client.get(f"{garment}/history").json() == own
    told = client.get("/api/workroom/history").json()
    assert told["lines"][-1]["sentence"] == "Put “blue” on the shelf"
    assert made["revision"] == told["revision"]
    assert "outline" not in told["lines"][-1]["params"]["cloth"]
    answer = client.post("/api/workroom/undo", json={"expected": made["revision"] - 1})
    assert (answer.status_code, answer.json()["code"]) == (409, "changed-elsewhere")
    back = post(client, "/api/workroom/undo", {"expected": made["revision"]})
    assert back["sentence"] == "Taken back: Put “blue” on the shelf."
    assert sewn.shelf().cloths == {}
    assert client.get("/api/workroom").json()["steps"]["redo"] == "Put “blue” on the shelf"
    post(client, "/api/workroom/redo", {})
    assert len(sewn.shelf().cloths) == 1
    line = client.get("/api/workroom/history").json()["lines"][-1]
    post(client, f"/api/workroom/history/{line['id']}/switch", {"on": False})
    assert sewn.shelf().cloths == {}


def test_a_garment_with_a_pattern_is_not_taken_back_with_the_workroom(
    client: TestClient, garment: str
) -> None:
    answer = client.post("/api/workroom/undo", json={})
    assert (answer.status_code, answer.json()["code"]) == (409, "conflict")
    assert "history of its own" in answer.json()["sentence"]
    assert client.get(garment).status_code == 200
