"""Photographs through the server: taken in, traced in a worker, made into pieces; what is refused, and how."""

from __future__ import annotations

import io
import time
from typing import Any

import pytest
from PIL import Image
from starlette.testclient import TestClient

from eke.actions import found, photographs
from eke.actions.room import Room, open_room
from eke.actions.work import trace_job
from eke.errors import NotTrustworthy
from eke.jobs import Report
from eke.web.app import make_app
from eke.web.house import House, make_house
from helpers import pictures, tunic

TUNIC = tunic.TUNIC


@pytest.fixture
def garment(sewn: Room) -> str:
    return sewn.garment(TUNIC).id


def send(client: TestClient, subject: str, data: bytes, name: str = "front.jpg", **form: Any) -> Any:
    return client.post(f"/api/subjects/{subject}/photographs", files={"file": (name, data)}, data=form)


def wait_for(client: TestClient, photograph: str, seconds: float = 60.0) -> dict[str, Any]:
    """Return the photograph when no job works on it any more."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        view = client.get(f"/api/photographs/{photograph}").json()
        if view["state"] != "tracing":
            return view
        time.sleep(0.05)
    raise AssertionError("the tracing did not end")


def test_a_photograph_is_taken_in_and_listed(client: TestClient, garment: str) -> None:
    assert client.get(f"/api/subjects/{garment}/photographs").json() == []
    sent = send(client, garment, pictures.plain_jpeg())
    assert sent.status_code == 200, sent.text
    view = sent.json()
    assert (view["state"], view["subject"], view["name"], view["cloth"]) == (
        "new",
        garment,
        "front.jpg",
        False,
    )
    assert client.get(f"/api/subjects/{garment}/photographs").json() == [view]
    shown = client.get(f"/api/photos/{view['photo']}?longest_px=320")
    assert shown.headers["content-type"] == "image/jpeg"
    assert "immutable" in shown.headers["cache-control"]
    assert Image.open(io.BytesIO(shown.content)).size == (320, 240)
    same = client.get(
        f"/api/photos/{view['photo']}?longest_px=320", headers={"If-None-Match": shown.headers["etag"]}
    )
    assert (same.status_code, same.content) == (304, b"")


def test_a_photograph_is_looked_at_once_and_what_is_said_of_it_counts(
    client: TestClient, garment: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    new = send(client, garment, pictures.plain_jpeg()).json()
    assert new["glance"] is None
    seen = client.post(f"/api/photographs/{new['id']}/glance").json()
    assert [one["code"] for one in seen["glance"]["findings"]] == ["no-reference"]
    assert not seen["glance"]["good"]

    def again(*_: object, **__: object) -> None:
        raise AssertionError("it has been looked at")

    monkeypatch.setattr("eke.actions.glances.glance", again)
    assert client.post(f"/api/photographs/{new['id']}/glance").json() == seen
    assert client.get(f"/api/subjects/{garment}/photographs").json() == [seen]
    points = {"kind": "points", "from_px": [100, 100], "to_px": [500, 100], "distance_mm": 200}
    said = client.patch(f"/api/photographs/{new['id']}", json={"references": [points]}).json()
    assert said["glance"]["good"]
    assert said["glance"]["findings"] == []
    assert client.patch(f"/api/photographs/{new['id']}", json={"cloth": True}).json()["glance"] is None
    assert client.post("/api/photographs/none/glance").status_code == 404


def test_a_photograph_of_cloth_goes_to_the_shelf(client: TestClient) -> None:
    view = send(client, "shelf", pictures.plain_jpeg(), cloth="true").json()
    assert (view["subject"], view["cloth"]) == ("shelf", True)


@pytest.mark.parametrize(
    ("data", "status", "says"),
    [
        (b"GIF89a no", 400, "not a picture"),
        (b"", 400, "empty"),
        (pictures.bomb_png(), 400, "million"),
        (pictures.plain_jpeg()[:700], 400, "cut short"),
    ],
)
def test_what_is_no_picture_is_said_plainly(
    client: TestClient, garment: str, data: bytes, status: int, says: str
) -> None:
    sent = send(client, garment, data)
    assert sent.status_code == status
    assert sent.json()["code"] == "bad-input"
    assert says in sent.json()["sentence"]
    assert client.get(f"/api/subjects/{garment}/photographs").json() == []


def test_more_than_is_opened_is_refused(client: TestClient, garment: str) -> None:
    sent = send(client, garment, b"\xff\xd8" + bytes(111_000_000))
    assert sent.status_code == 413
    assert sent.json()["code"] == "too-big"


@pytest.mark.parametrize(
    "name", ["../../../evil.jpg", "..\\..\\evil.jpg", "/etc/passwd", "%2e%2e%2fevil.jpg"]
)
def test_a_path_in_a_name_goes_nowhere(client: TestClient, room: Room, garment: str, name: str) -> None:
    view = send(client, garment, pictures.plain_jpeg(), name).json()
    assert "/" not in view["name"]
    assert "\\" not in view["name"]
    files = [p for p in room.folder.parent.rglob("*") if p.is_file() and "evil" in p.name]
    assert files == []


@pytest.mark.parametrize("sha", ["..%2f..%2fworkroom.sqlite", "0" * 63, "0" * 64, "F" * 64])
def test_a_photograph_is_named_by_its_content_alone(client: TestClient, sha: str) -> None:
    assert client.get(f"/api/photos/{sha}").status_code in (400, 404)


def test_a_size_that_is_none(client: TestClient, garment: str) -> None:
    view = send(client, garment, pictures.plain_jpeg()).json()
    for size in ("0", "-4", "big", "9999999999"):
        assert client.get(f"/api/photos/{view['photo']}?longest_px={size}").status_code == 400


def test_what_is_said_is_kept_and_nonsense_is_not(client: TestClient, garment: str) -> None:
    one = send(client, garment, pictures.plain_jpeg()).json()["id"]
    said = {
        "references": [{"kind": "sheet", "check_line_mm": 239.5}],
        "touches": [{"x_px": 4, "y_px": 5, "side": "-"}],
        "strokes": [{"how": "draw", "points_px": [[4, 5], [9, 7]]}, {"how": "rub", "points_px": [[3, 3]]}],
    }
    view = client.patch(f"/api/photographs/{one}", json=said).json()
    assert view["references"][0] | {} == view["references"][0]
    assert (view["references"][0]["check_line_mm"], view["touches"][0]["side"]) == (239.5, "-")
    assert view["strokes"] == said["strokes"]
    for wrong in (
        {"touches": [{"x_px": 9e9, "y_px": 0}]},
        {"strokes": [{"how": "draw", "points_px": [[4, 5], [9e9, 7]]}]},
        {"strokes": [{"how": "draw", "points_px": []}]},
        {"strokes": [{"how": "paint", "points_px": [[4, 5]]}]},
        {"references": [{"kind": "points"}]},
        {"colour": "red"},
    ):
        answer = client.patch(f"/api/photographs/{one}", json=wrong)
        assert answer.status_code == 400
    assert client.get(f"/api/photographs/{one}").json() == view


def test_off_the_table_and_back(client: TestClient, garment: str) -> None:
    one = send(client, garment, pictures.plain_jpeg()).json()["id"]
    assert client.delete(f"/api/photographs/{one}").json()["sentence"] == "Took “front.jpg” off the table."
    assert client.get(f"/api/subjects/{garment}/photographs").json() == []
    client.post(f"/api/photographs/{one}/bring-back")
    assert len(client.get(f"/api/subjects/{garment}/photographs").json()) == 1
    assert client.delete("/api/photographs/nobody").status_code == 404


def test_nothing_to_trace_is_kept_as_an_answer(client: TestClient, garment: str) -> None:
    one = send(client, garment, pictures.plain_jpeg()).json()["id"]
    job = client.post(f"/api/photographs/{one}/trace").json()
    assert (job["what"], job["subject"]) == ("trace", one)
    view = wait_for(client, one)
    assert (view["state"], view["found"], view["job"]) == ("refused", None, None)
    assert view["refused"]
    assert (view["missing"], view["answers"]) == ("scale", [])
    ended = client.get("/api/jobs").json()[0]
    assert ended["sentence"] == view["refused"]
    assert client.post(f"/api/photographs/{one}/pieces", json={"which": "1", "name": "x"}).status_code == 404
    assert client.get(f"/api/photographs/{one}/straightened.jpg").status_code == 404


def test_an_answer_that_is_offered_can_be_said(client: TestClient, room: Room, garment: str) -> None:
    one = send(client, garment, pictures.plain_jpeg()).json()["id"]
    corners = [[10.0, 10.0], [95.0, 11.0], [94.0, 64.0], [9.0, 63.0]]
    why = NotTrustworthy(
        "Is it a bank card?", reason="which reference", places_px=corners,
        answers=[{"kind": "card", "corners_px": corners}],
    )  # fmt: skip
    found.keep_refused(room, one, why, photographs.photograph(room, one).said)
    view = client.get(f"/api/photographs/{one}").json()
    assert (view["state"], view["missing"], view["refused_px"]) == ("refused", "scale", corners)
    after = client.patch(f"/api/photographs/{one}", json=view["answers"][0]).json()
    assert (after["state"], after["references"][0]["kind"], after["answers"]) == ("changed", "card", [])
    assert after["references"][0]["corners_px"] == corners


@pytest.mark.slow
def test_from_upload_to_piece(client: TestClient, room: Room, garment: str) -> None:
    one = send(client, garment, pictures.demo_photograph()).json()["id"]
    client.patch(f"/api/photographs/{one}", json={"references": [{"kind": "card"}], "square_paper": True})
    client.post(f"/api/photographs/{one}/trace")
    view = wait_for(client, one)
    assert view["state"] == "found"
    seen = view["found"]
    assert [p["which"] for p in seen["pieces"]] == ["1", "2"]
    assert all(
        0 <= x <= view["width_px"] and 0 <= y <= view["height_px"]
        for p in seen["pieces"]
        for x, y in p["outline_px"]
    )
    assert len(seen["references_px"]) == 1
    fewer = seen["pieces"][0]["corners"][:1]
    put = client.put(f"/api/photographs/{one}/outlines/1/corners", json={"corners": fewer}).json()
    assert put["found"]["pieces"][0]["corners"] == fewer
    assert client.get(f"/api/photographs/{one}").json() == put
    assert (
        client.put(f"/api/photographs/{one}/outlines/1/corners", json={"corners": [[9e5, 0]]}).status_code
        == 400
    )
    assert client.put(f"/api/photographs/{one}/outlines/1/corners", json={"corners": None}).json() == view
    flat = client.get(f"/api/photographs/{one}/straightened.jpg?longest_px=700")
    assert max(Image.open(io.BytesIO(flat.content)).size) == 700
    done = client.post(
        f"/api/photographs/{one}/pieces",
        json={"which": "1", "name": "pocket", "traced_as": "finished", "pairs": True},
    ).json()
    assert done["sentence"] == "Traced “pocket”."
    assert room.garment(garment).pattern.piece(done["id"]).name == "pocket"
    assert client.get(f"/api/photographs/{one}").json()["found"]["pieces"][0]["piece"] == done["id"]
    again = client.post(
        f"/api/photographs/{one}/pieces", json={"which": "2", "name": "pocket", "again": done["id"]}
    )
    assert again.status_code == 409
    assert again.json()["facts"]["unsure"]


def test_a_server_that_dies_while_tracing_loses_nothing_answered(
    client: TestClient, house: House, garment: str
) -> None:
    one = send(client, garment, pictures.demo_photograph()).json()["id"]
    client.patch(f"/api/photographs/{one}", json={"references": [{"kind": "card"}], "name": "pocket"})
    job = client.post(f"/api/photographs/{one}/trace").json()
    assert client.get(f"/api/photographs/{one}").json()["state"] == "tracing"
    house.board.stop(job["id"])
    house.close()  # as near to a kill as one process allows: the worker is gone, nothing was kept by it
    house.room.close()
    with open_room(house.room.folder) as room:
        other = make_house(room, port=house.port)
        with TestClient(
            make_app(other), base_url=other.origin, headers={"Origin": other.origin, "X-Eke": "1"}
        ) as c:
            c.get("/", params={"key": other.key})
            view = c.get(f"/api/photographs/{one}").json()
        other.close()
    assert (view["state"], view["name"], view["references"][0]["kind"]) == ("new", "pocket", "card")


def test_everything_works_without_the_web(room: Room, sewn: Room, garment: str) -> None:
    """The same by actions alone, in one process."""
    one = photographs.take_in_photograph(room, garment, pictures.demo_photograph(), "a.jpg")
    one = photographs.say_of_photograph(room, one.id, references=[{"kind": "card"}])
    said = one.said
    one = photographs.say_of_photograph(room, one.id, strokes=[{"how": "rub", "points_px": [[5, 5]]}])
    assert one.said != said, "what was found before is no longer what would be found"
    seen = trace_job(Report(), data=pictures.demo_photograph(), **found.trace_words(one))
    found.keep_found(room, one.id, seen, one.said)
    done = found.take_piece(room, one.id, "1", "pocket")
    assert done.id in room.garment(garment).pattern.pieces
