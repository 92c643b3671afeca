"""Finished measures over the server and on the command line's side."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from eke.actions.measures import measures
from eke.actions.room import Room
from helpers import tunic


def test_measures_beside_the_body(sewn: Room, client: TestClient) -> None:
    state = sewn.garment(tunic.TUNIC)
    rows = client.get(f"/api/garments/{state.id}/measures").json()
    lengths = [row for row in rows if row["kind"] == "length" and row["edges"]]
    assert lengths
    for row in rows:
        whole = sum(s["mm"] * s["times"] for s in row["shares"])
        if row["kind"] == "round":
            assert row["mm"] == pytest.approx(whole, abs=0.01)
    assert [row["name"] for row in rows] == [m.name for m in measures(sewn, state.id).finished]
    (hem, *_) = [row for row in rows if row["name"].startswith("hem of ")]
    edges = [state.pattern.edge(e) for e in hem["edges"]]
    assert all(edge.kind == "hem" for _, edge in edges)
    assert client.get("/api/garments/nobody/measures").status_code == 404


def test_a_tape_that_differs_is_told(sewn: Room, client: TestClient) -> None:
    garment = sewn.garment(tunic.TUNIC).id
    row = next(r for r in client.get(f"/api/garments/{garment}/measures").json() if r["kind"] == "length")
    said = {
        "kind": "measure.taped",
        "params": {"name": "taped", "mm": row["mm"] + 40.0, "edges": row["edges"][:1]},
    }
    answer = client.post(f"/api/garments/{garment}/changes", json=said)
    assert answer.status_code == 200, answer.text
    assert [f.code for f in measures(sewn, garment).differing] == ["tape-differs"]
