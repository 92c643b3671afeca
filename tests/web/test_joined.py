"""Photographs joined through the server: the joined one is there at once, and says what became of it."""

from __future__ import annotations

from starlette.testclient import TestClient

from eke.actions.room import Room
from helpers import pictures, tunic

from .test_photographs import send, wait_for


def test_a_refused_joining_is_shown_and_tried_again(client: TestClient, sewn: Room) -> None:
    garment = sewn.garment(tunic.TUNIC).id
    ids = [
        send(client, garment, pictures.plain_jpeg(800 + 20 * k, 600), f"leg {k}.jpg").json()["id"]
        for k in range(2)
    ]
    job = client.post("/api/joined", json={"photographs": ids})
    assert job.status_code == 200, job.text
    assert job.json()["what"] == "trace"
    view = wait_for(client, job.json()["subject"])
    assert (view["state"], view["parts"]) == ("refused", ids)
    assert "Picture 1: " in view["refused"]
    assert [p["id"] for p in client.get(f"/api/subjects/{garment}/photographs").json()] == [*ids, view["id"]]
    again = client.post(f"/api/photographs/{view['id']}/trace").json()
    assert again["title"] == "Joining 2 photographs"
    assert wait_for(client, view["id"])["state"] == "refused"


def test_what_cannot_be_joined_is_said(client: TestClient, sewn: Room) -> None:
    garment = sewn.garment(tunic.TUNIC).id
    one = send(client, garment, pictures.plain_jpeg()).json()["id"]
    no = client.post("/api/joined", json={"photographs": [one]})
    assert no.status_code in (400, 422)
    assert "from 2 to" in no.text
    assert client.post("/api/joined", json={"photographs": [one, "nobody"]}).status_code == 404
