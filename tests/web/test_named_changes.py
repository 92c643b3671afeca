"""Every fit change has its row in the app's table, and what each row begins with is understood by the server.

The two sides meet in two files beside the table (``frontend/src/rooms/mock-ups/first-plans``): ``garment.json`` is a
garment as this server tells it, with ids that stay (written here with ``EKE_RENEW=1``), and ``plans.json`` what the
table begins with there, wherever it is pointed at (written by the front end's tests, ``npm test -- -u``).
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

import pytest
from starlette.testclient import TestClient

from eke.actions import patterns
from eke.actions.room import Room, make_room
from eke.fit.kinds import fit_kinds
from eke.web.app import make_app
from eke.web.house import make_house
from helpers import tunic

ROOM: Final = Path(__file__).parents[2] / "frontend" / "src" / "rooms" / "mock-ups"
TABLE: Final = ROOM / "named.ts"
GARMENT: Final = ROOM / "first-plans" / "garment.json"
PLANS: Final = ROOM / "first-plans" / "plans.json"

SLEEVE: Final = (
    ((30, 0), (190, 0)),
    ((190, 0), (220, 200)),
    ((220, 200), (170, 300), (50, 300), (0, 200)),
    ((0, 200), (30, 0)),
)
SLEEVE_EDGES: Final = ("hem", "underarm front", "cap", "underarm back")


def sew_garment(room: Room) -> str:
    """Start a tunic with a bust dart and a sleeve in two parts; return its id."""
    tunic.start_tunic(room)
    name = tunic.TUNIC
    patterns.change(room, name, "trace.add", tunic.trace_params(SLEEVE, "sleeve"))
    for edge, called in zip(room.garment(name).pattern.piece("sleeve").edges, SLEEVE_EDGES, strict=True):
        kind = "hem" if called == "hem" else "seam"
        patterns.change(room, name, "edge.set", {"edge": edge.id, "name": called, "kind": kind})
    pattern = room.garment(name).pattern
    cap, front, back = (
        patterns.find_edge(pattern, at).id for at in ("sleeve.cap", "front.armhole", "back.armhole")
    )
    patterns.say_seam(room, name, "armhole", [cap], [front, f"-{back}"])
    side = patterns.find_edge(pattern, "front.side")
    dart = {"edge": side.id, "mm": 260.0, "intake_mm": 20.0, "apex": [95.0, 290.0]}
    patterns.change(room, name, "fit.add_dart", dart)
    # a seam between two pieces of which none lies on a fold: the sleeve in two
    front, back = (
        patterns.find_edge(room.garment(name).pattern, f"sleeve.{at}") for at in SLEEVE_EDGES[1::2]
    )
    across = {"edge": front.id, "fraction": 0.25, "to": {"edge": back.id, "fraction": 0.75}}
    patterns.change(room, name, "fit.cut", across | {"part": "cuff", "seam": "cuff"})
    return room.garment(name).id


def names_of(view: Mapping[str, Any]) -> dict[str, str]:
    """Return ids that stay for what has been made with chance ids: pieces, tracings, edges, darts, notches, marks and seams."""
    names = {}
    for piece in view["pieces"]:
        names[piece["id"]] = piece["name"]
        if piece["tracing"]:
            names.setdefault(piece["tracing"], f"{piece['name']}/tracing")
        for kind in ("edges", "darts", "notches", "marks"):
            names |= {thing["id"]: f"{piece['name']}/{kind}/{n}" for n, thing in enumerate(piece[kind])}
    return names | {seam["id"]: f"seam/{seam['name']}" for seam in view["seams"]}


def renamed(what: Any, names: Mapping[str, str]) -> Any:
    """Return a document with ids exchanged."""
    if isinstance(what, dict):
        return {key: renamed(value, names) for key, value in what.items()}
    if isinstance(what, list):
        return [renamed(value, names) for value in what]
    return names.get(what, what) if isinstance(what, str) else what


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str]]:
    """A window on the garment, and the garment's address. Nothing here changes it: previews are asked for."""
    with make_room(tmp_path_factory.mktemp("named") / "room") as room:
        garment = sew_garment(room)
        house = make_house(room, port=8123)
        headers = {"Origin": house.origin, "X-Eke": "1"}
        with TestClient(make_app(house), base_url=house.origin, headers=headers) as client:
            assert client.get("/", params={"key": house.key}, follow_redirects=False).status_code == 303
            yield client, f"/api/garments/{garment}"
        house.close()


@pytest.fixture(scope="module")
def view(window: tuple[TestClient, str]) -> Any:
    client, address = window
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return answer.json()


def rows() -> list[str]:
    """Return the kinds of change that the app's table has, in its order."""
    return re.findall(r"^\s*(?:\{ )?change: '([a-z._]+)'", TABLE.read_text("utf-8"), flags=re.MULTILINE)


def test_every_fit_change_has_one_row_in_the_table_of_the_app() -> None:
    assert sorted(rows()) == sorted(kind.name for kind in fit_kinds())


def test_the_garment_that_the_front_end_plans_on_is_the_one_that_the_server_tells(view: Any) -> None:
    kept = ("pieces", "seams")
    told = renamed({name: view[name] for name in kept}, names_of(view))
    if os.environ.get("EKE_RENEW") == "1":
        GARMENT.write_text(json.dumps(told, indent=1, ensure_ascii=False) + "\n", "utf-8")
    assert json.loads(GARMENT.read_text("utf-8")) == told


def test_every_first_plan_is_shown_or_refused_with_a_sentence(
    window: tuple[TestClient, str], view: Any
) -> None:
    client, address = window
    back = {name: real for real, name in names_of(view).items()}
    shown: set[str] = set()
    for plan in json.loads(PLANS.read_text("utf-8")):
        said = {"kind": plan["change"], "params": renamed(plan["params"], back)}
        answer = client.post(f"{address}/preview", json=said)
        told = answer.json()
        assert answer.status_code in (200, 400, 404, 409), f"{plan}: {answer.text}"
        assert re.match(r"[“A-Z0-9].*\w", told["sentence"]), f"{plan}: {told}"
        # a cap that fits already stays as it is: that is no change, and shown all the same
        if answer.status_code == 200 and told["changes"]:
            shown.add(plan["change"])
    assert shown == set(rows()), "a change whose first plan works nowhere"
