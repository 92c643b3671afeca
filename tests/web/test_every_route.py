"""Every route, asked for what is not there and told what makes no sense: always a plain answer, never a mistake."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from eke.actions.room import Room, make_room
from eke.web.app import describe, make_app
from eke.web.house import make_house
from eke.web.models.common import Problem
from helpers import tunic

DOCUMENT = describe()
ROUTES = [
    (method.upper(), path, operation)
    for path, operations in DOCUMENT["paths"].items()
    for method, operation in operations.items()
    if path != "/api/events"  # it does not end
]
ODD_NAMES = [
    "nobody",
    "%00",
    "%F0%9F%A7%B5",
    "..%2f..%2fworkroom.db",
    "-1",
    "x" * 3000,
    "'%20or%201=1--",
    "%ED%A0%80",
]
ODD_VALUES: list[Any] = [
    None,
    True,
    -1,
    0,
    1e308,
    10**30,
    "",
    "nobody",
    "\ud800",
    "a\0b",
    "x" * 5000,
    [],
    {},
    [[]],
    {"a": {}},
]
FEW_ODD: list[Any] = [None, -1, "nobody", "\ud800", [], {"a": {}}]
JSON = {"content-type": "application/json"}
PLAIN = {400, 403, 404, 405, 409, 413, 422, 503}


@contextmanager
def window_of(folder: Path) -> Iterator[tuple[TestClient, Room]]:
    """A workroom with a tunic, and a window that has been let in."""
    with make_room(folder) as room:
        tunic.start_tunic(room)
        house = make_house(room, port=8123)
        headers = {"Origin": house.origin, "X-Eke": "1"}
        app = make_app(house)
        with TestClient(app, base_url=house.origin, headers=headers, follow_redirects=False) as window:
            assert window.get("/", params={"key": house.key}).status_code == 303
            yield window, room
        house.close()


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, Room]]:
    """One for all tests of this file: nonsense may not spoil it either."""
    with window_of(tmp_path_factory.mktemp("odd") / "room") as both:
        yield both


@pytest.fixture
def client(shared: tuple[TestClient, Room]) -> TestClient:
    return shared[0]


@pytest.fixture
def sewn(shared: tuple[TestClient, Room]) -> Room:
    return shared[1]


def schema_of(operation: dict[str, Any]) -> dict[str, Any] | None:
    content = operation.get("requestBody", {}).get("content", {}).get("application/json")
    if content is None:
        return None
    schema: dict[str, Any] = content["schema"]
    while "$ref" in schema:
        schema = DOCUMENT["components"]["schemas"][schema["$ref"].rsplit("/", 1)[1]]
    return schema


def bodies(operation: dict[str, Any]) -> Iterator[bytes | None]:
    """Bodies that a program in disorder might send: fields of the right names, with values of all kinds."""
    schema = schema_of(operation)
    if schema is None:
        yield None
        return
    for text in ("", "null", "[]", '"x"', "{}"):
        yield text.encode()
    names = list(schema.get("properties", {}))
    for value in ODD_VALUES:
        yield json.dumps(dict.fromkeys(names, value)).encode()
        for name in names:
            others = {other: _likely(schema["properties"][other]) for other in names if other != name}
            yield json.dumps({**others, name: value}).encode()
    for number in ("NaN", "Infinity", "1e999"):
        for name in names:
            others = {other: _likely(schema["properties"][other]) for other in names if other != name}
            yield (json.dumps(others)[:-1] + f'{", " if others else ""}"{name}": {number}}}').encode()


def _likely(schema: dict[str, Any]) -> Any:
    """A value of the right kind."""
    while "$ref" in schema:
        schema = DOCUMENT["components"]["schemas"][schema["$ref"].rsplit("/", 1)[1]]
    if "anyOf" in schema:
        return _likely(schema["anyOf"][0])
    if "enum" in schema:
        return schema["enum"][0]
    if "const" in schema:
        return schema["const"]
    made: dict[str, Any] = {
        "string": "thing", "number": 1.0, "integer": 1, "boolean": True, "null": None, "array": [],
    }  # fmt: skip
    if schema.get("type") == "object" and "properties" in schema:
        return {n: _likely(s) for n, s in schema["properties"].items()}
    return made.get(schema.get("type", ""), {})


def filled(path: str, value: str) -> str:
    parts = [value if part.startswith("{") else part for part in path.split("/")]
    return "/".join(parts)


def check(answer: Any, where: str) -> None:
    assert answer.status_code != 500, f"{where}: {answer.text}"
    assert answer.status_code < 400 or answer.status_code in PLAIN, where
    if answer.status_code >= 400:
        problem = Problem.model_validate(answer.json())
        assert problem.sentence.strip().endswith((".", "”", "?")), f"{where}: {problem.sentence}"
        for word in ("Traceback", "nvalid", "Exception", "NoneType", "<class"):
            assert word not in problem.sentence, f"{where}: {problem.sentence}"


@pytest.mark.parametrize(("method", "path", "operation"), ROUTES, ids=[f"{m} {p}" for m, p, _ in ROUTES])
def test_what_is_not_there(client: TestClient, method: str, path: str, operation: dict[str, Any]) -> None:
    for name in ODD_NAMES:
        if "{" in path:
            answer = client.request(method, filled(path, name), content=b"{}", headers=JSON)
            check(answer, f"{method} {path} with {name[:20]}")


@pytest.mark.parametrize(("method", "path", "operation"), ROUTES, ids=[f"{m} {p}" for m, p, _ in ROUTES])
def test_what_makes_no_sense(
    client: TestClient, sewn: Room, method: str, path: str, operation: dict[str, Any]
) -> None:
    """With a garment that is there, so that what was said is looked at."""
    project = next(iter(sewn.shelf().projects.values()))
    garment = project.garments[0].id
    known = {"{garment}": garment, "{project}": project.id, "{subject}": garment}
    address = "/".join(known.get(part, "x" if part.startswith("{") else part) for part in path.split("/"))
    for body in bodies(operation):
        answer = client.request(method, address, content=body, headers=JSON)
        check(answer, f"{method} {path} with {(body or b'')[:200]!r}")


QUESTIONS = [
    (path, [p["name"] for p in operation.get("parameters", []) if p["in"] == "query"])
    for method, path, operation in ROUTES
    if method == "GET" and any(p["in"] == "query" for p in operation.get("parameters", []))
]


@pytest.mark.parametrize(("path", "names"), QUESTIONS, ids=[path for path, _ in QUESTIONS])
def test_odd_questions(client: TestClient, sewn: Room, path: str, names: list[str]) -> None:
    """Values behind the question mark."""
    project = next(iter(sewn.shelf().projects.values()))
    known = {"{garment}": project.garments[0].id, "{project}": project.id, "{subject}": "shelf"}
    address = "/".join(known.get(part, "x" if part.startswith("{") else part) for part in path.split("/"))
    for name in names:
        for value in ("", "nobody", "-1", "0", "1e999", "nan", "9" * 400, "\0", "%", "é", "true"):
            check(client.get(address, params={name: value}), f"{path}?{name}={value[:10]}")


@pytest.mark.parametrize("door", ["changes", "preview"])
def test_every_kind_of_change_told_nonsense(tmp_path: Path, door: str) -> None:
    """The names that a change may have are taken from those that the other kinds have."""
    with window_of(tmp_path / "room") as (client, sewn):
        _tell_nonsense(client, sewn, door)


def _tell_nonsense(client: TestClient, sewn: Room, door: str) -> None:
    garment = next(iter(sewn.shelf().projects.values())).garments[0].id
    state = sewn.garment(garment)
    names = {"piece", "pieces", "edge", "edges", "seam", "id", "name", "called"}
    for record in state.stored.log.records.values():
        names |= set(record.params)
    real = {record.kind: dict(record.params) for record in state.stored.log.records.values()}
    for kind in sorted(k.name for k in sewn.garment_kinds):
        for value in FEW_ODD:
            said = {"kind": kind, "params": dict.fromkeys(names, value)}
            answer = client.post(f"/api/garments/{garment}/{door}", content=json.dumps(said), headers=JSON)
            check(answer, f"{door} {kind} with {value!r:.40}")
        for name in real.get(kind, {}):  # one slip in what was right
            for value in FEW_ODD:
                said = {"kind": kind, "params": {**real[kind], name: value}}
                answer = client.post(
                    f"/api/garments/{garment}/{door}", content=json.dumps(said), headers=JSON
                )
                check(answer, f"{door} {kind} with {name} {value!r:.40}")
    assert client.get(f"/api/garments/{garment}").status_code == 200
