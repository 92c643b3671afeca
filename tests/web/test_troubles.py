"""Whatever goes wrong has one shape, and nothing of the program's inside leaves."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fastapi import APIRouter
from starlette.testclient import TestClient

from eke import errors
from eke.store import ChangedMeanwhile, Damaged, InUse
from eke.web.app import describe, make_app
from eke.web.house import House
from eke.web.models.common import Problem
from eke.web.models.workroom import ProjectSaid
from eke.web.troubles import plain_facts

Raising = Callable[[BaseException], TestClient]


@pytest.fixture
def raising(house: House) -> Iterator[Raising]:
    """A window of a server whose only extra route raises what it is given."""
    raised: list[BaseException] = []
    router = APIRouter(prefix="/api/test")

    @router.get("/raise")
    def route() -> None:
        raise raised[-1]

    app = make_app(house)
    app.include_router(router)
    app.router.routes.insert(0, app.router.routes.pop())
    with TestClient(app, base_url=house.origin) as window:
        window.get("/", params={"key": house.key}, follow_redirects=False)

        def ask(error: BaseException) -> Any:
            raised.append(error)
            return window.get("/api/test/raise")

        yield ask


@pytest.mark.parametrize(
    ("error", "status", "code"),
    [
        (errors.BadInput, 400, "bad-input"),
        (errors.BadPicture, 400, "bad-input"),
        (errors.BadShape, 400, "bad-input"),
        (errors.NotFound, 404, "not-found"),
        (errors.ChangeConflict, 409, "conflict"),
        (ChangedMeanwhile, 409, "changed-elsewhere"),
        (errors.Stopped, 409, "stopped"),
        (errors.NotTrustworthy, 422, "cannot-promise"),
        (errors.DoesNotFit, 422, "does-not-fit"),
        (errors.HonestNo, 422, "honest-no"),
        (errors.StoreTrouble, 503, "store-trouble"),
        (Damaged, 503, "store-trouble"),
        (InUse, 503, "in-use"),
        (errors.EkeError, 500, "our-mistake"),
    ],
)
def test_errors_of_our_own(raising: Any, error: type[errors.EkeError], status: int, code: str) -> None:
    answer = raising(error("The side seam is\n 4 mm longer.", seam="s1", amount_mm=4.0))
    assert answer.status_code == status
    assert Problem.model_validate(answer.json()) == Problem(
        code=code, sentence="The side seam is 4 mm longer.", facts={"seam": "s1", "amount_mm": 4.0}
    )


def test_every_error_of_the_tree_has_an_answer(raising: Any) -> None:
    def tree(kind: type) -> Iterator[type]:
        yield kind
        for child in kind.__subclasses__():
            yield from tree(child)

    for kind in tree(errors.EkeError):
        answer = raising(kind("What happened."))
        assert answer.status_code in (400, 404, 409, 413, 422, 500, 503), kind
        assert answer.json()["sentence"] == "What happened."


def test_a_mistake_of_the_program_goes_to_the_log_only(raising: Any, caplog: Any) -> None:
    with caplog.at_level(logging.ERROR, logger="eke"):
        answer = raising(KeyError("a secret thing in /home/somebody"))
    assert answer.status_code == 500
    assert answer.json()["code"] == "our-mistake"
    assert answer.json()["sentence"].startswith("Eke made a mistake")
    assert "Nothing was changed" in answer.json()["sentence"]
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
    assert "a secret thing" in caplog.text


def test_facts_become_plain_json() -> None:
    facts = plain_facts(
        {
            "points": np.array([[1.0, np.nan]]),
            "count": np.int64(3),
            "folder": Path("a") / "b",
            "none": None,
            "inf": float("inf"),
            "said": ProjectSaid,
            "them": {3: {1, 2}},
            "pair": (1, "x"),
            "bytes": b"x",
        }
    )
    assert json.loads(json.dumps(facts, allow_nan=False)) == facts
    assert (facts["points"], facts["count"], facts["inf"]) == ([[1.0, None]], 3, None)
    assert sorted(facts["them"]["3"]) == [1, 2]


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"{", "is no JSON"),
        (b"[]", "cannot be used"),
        (b"{}", "“name” is missing"),
        (b'{"name": 3}', "“name” cannot be used"),
        (b'{"name": "W", "colour": "red"}', "Eke does not know “colour” here"),
        (b"", "Nothing was sent"),
        (b"\xff\xfe", ""),
        (b"[" * 100_000, ""),
    ],
)
def test_what_cannot_be_read_is_said_plainly(client: TestClient, body: bytes, said: str) -> None:
    answer = client.post("/api/projects", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 400
    found = Problem.model_validate(answer.json())
    assert found.code == "bad-input"
    assert said in found.sentence
    assert found.sentence.endswith("Nothing was changed.")
    assert "nvalid" not in found.sentence


@pytest.mark.parametrize(
    "body",
    [b'{"name": "\\ud800"}', b'{"name": "a\\u0000b"}', b'{"name": "W", "budget": "NaN"}', b'{"name": ""}'],
)
def test_odd_values_are_no_mistake_of_ours(client: TestClient, body: bytes) -> None:
    answer = client.post("/api/projects", content=body, headers={"content-type": "application/json"})
    assert answer.status_code in (200, 400)


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", "9" * 400, '"\\ud800"'])
def test_odd_numbers_are_no_mistake_of_ours(client: TestClient, number: str) -> None:
    made = client.post("/api/projects", json={"name": "Winter"}).json()
    garment = client.post(f"/api/projects/{made['id']}/garments", json={"name": "Coat"}).json()["id"]
    body = '{"kind": "pattern.rename", "params": {"name": ' + number + "}}"
    answer = client.post(
        f"/api/garments/{garment}/changes", content=body, headers={"content-type": "application/json"}
    )
    assert answer.status_code in (200, 400), answer.json()
    assert client.get(f"/api/garments/{garment}").status_code == 200


def test_other_ways_and_methods(client: TestClient) -> None:
    assert client.get("/api/nothing/here").json()["code"] == "not-found"
    answer = client.put("/api/jobs", json={})
    assert (answer.status_code, answer.json()["code"]) == (405, "bad-input")


def test_the_description_names_every_model_that_is_said_and_one_shape_of_trouble() -> None:
    document = describe()
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            where = f"{method} {path}"
            assert operation["responses"]["default"]["content"]["application/json"]["schema"] == {
                "$ref": "#/components/schemas/Problem"
            }, where
            assert "422" not in operation["responses"], where
    assert not {"HTTPValidationError", "ValidationError"} & set(document["components"]["schemas"])
