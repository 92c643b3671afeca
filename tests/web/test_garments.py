"""Garments over the server: what a window sees, changes, previews, walks, and what it cannot have."""

from __future__ import annotations

import gzip
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon
from starlette.testclient import TestClient

from eke.actions.room import Room
from helpers import tunic

TUNIC = tunic.TUNIC


@pytest.fixture
def garment(sewn: Room, client: TestClient) -> str:
    """The address of a sewn tunic."""
    return f"/api/garments/{sewn.garment(TUNIC).id}"


def got(client: TestClient, address: str) -> Any:
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return answer.json()


def change(client: TestClient, garment: str, kind: str, params: Mapping[str, Any], **more: Any) -> Any:
    answer = client.post(f"{garment}/changes", json={"kind": kind, "params": params, **more})
    assert answer.status_code == 200, answer.text
    return answer.json()


def edge(view: Mapping[str, Any], piece: str, name: str) -> dict[str, Any]:
    (found,) = [e for p in view["pieces"] if p["name"] == piece for e in p["edges"] if e["name"] == name]
    return found


def seam(view: Mapping[str, Any], name: str) -> dict[str, Any]:
    (found,) = [s for s in view["seams"] if s["name"] == name]
    return found


def flat(segments: Sequence[Mapping[str, Any]]) -> np.ndarray:
    """Points along lines and cubics, from Bernstein's polynomials, not with our own curves."""
    t = np.linspace(0.0, 1.0, 200)[:, None]
    made = []
    for segment in segments:
        p = np.array(segment["points"])
        n = len(p) - 1
        made.append(sum(math.comb(n, i) * t**i * (1 - t) ** (n - i) * p[i] for i in range(n + 1)))
    return np.vstack(made)


# ---------------------------------------------------------------- looking


def test_the_pieces_of_a_garment(client: TestClient, garment: str) -> None:
    view = got(client, garment)
    assert [p["name"] for p in view["pieces"]] == ["front", "back"]
    assert (view["name"], view["project_name"], view["steps"]["redo"]) == (TUNIC, tunic.PROJECT, None)
    assert view["steps"]["undo"] == "Said how “shoulder” is sewn"
    front = view["pieces"][0]
    assert [e["name"] for e in front["edges"]] == list(tunic.EDGES)
    assert front["fold"] == front["edges"][-1]["id"]
    hem, side = edge(view, "front", "hem"), edge(view, "front", "side")
    assert hem["length_mm"] == 200.0
    assert side["length_mm"] == pytest.approx(math.hypot(20, 350), abs=5e-4)
    assert side["seams"] == [seam(view, "side")["id"]]
    assert (hem["allowance_mm"], side["allowance_mm"], hem["own_allowance"]) == (40.0, 15.0, False)
    # hem to side: from +x to (-20, 350), inside the piece
    assert side["start_angle_deg"] == pytest.approx(180 - math.degrees(math.atan2(350, -20)), abs=1e-3)
    assert front["uncertainty_mm"] == 0.5


def test_edges_close_and_their_lengths_are_those_of_their_segments(client: TestClient, garment: str) -> None:
    for piece in got(client, garment)["pieces"]:
        ends = [(e["segments"][0]["points"][0], e["segments"][-1]["points"][-1]) for e in piece["edges"]]
        for (_, end), (start, _) in zip(ends, ends[1:] + ends[:1], strict=True):
            assert end == start
        for one in piece["edges"]:
            steps = np.diff(flat(one["segments"]), axis=0)
            assert np.hypot(*steps.T).sum() == pytest.approx(one["length_mm"], abs=0.01)


def test_the_cut_outline_lies_outside_the_net_one_by_the_allowances(client: TestClient, garment: str) -> None:
    for piece in got(client, garment)["pieces"]:
        net = Polygon(np.vstack([flat(e["segments"]) for e in piece["edges"]]))
        cut = Polygon(piece["cut_outline"])
        assert cut.exterior.is_ccw
        assert cut.buffer(0.01).contains(net)
        x0, y0, _, _ = net.bounds
        # nothing beyond the fold, 40 mm below the hem
        assert cut.bounds[0] == pytest.approx(x0, abs=0.01)
        if piece["name"] == "front":  # its hem is level
            assert cut.bounds[1] == pytest.approx(y0 - 40.0, abs=0.1)


def test_notches_and_darts_stand_where_they_are_put(client: TestClient, garment: str) -> None:
    hem = edge(got(client, garment), "front", "hem")["id"]
    made = change(client, garment, "notch.set", {"edge": hem, "mm": 50, "count": 2})
    view = got(client, garment)
    (notch,) = view["pieces"][0]["notches"]
    assert (notch["id"], notch["edge"], notch["count"], notch["mm"]) == (made["id"], hem, 2, 50.0)
    assert notch["at"] == [50.0, 0.0]
    assert notch["out_deg"] == -90.0
    change(
        client,
        garment,
        "fit.add_dart",
        {
            "edge": edge(view, "front", "side")["id"],
            "fraction": 0.5,
            "intake_mm": 20,
            "apex": [90, 175],
        },
    )
    view = got(client, garment)
    (dart,) = view["pieces"][0]["darts"]
    legs = {e["id"]: e["segments"][0]["points"] for e in view["pieces"][0]["edges"]}
    mouth, apex = legs[dart["first_leg"]][0], legs[dart["first_leg"]][-1]
    assert dart["apex"] == apex == legs[dart["second_leg"]][0]
    assert dart["intake_mm"] == pytest.approx(math.dist(mouth, legs[dart["second_leg"]][-1]), abs=2e-3)
    assert dart["intake_mm"] == pytest.approx(20.0, abs=0.01)
    assert view["steps"]["undo"] == "Added a dart of 20 mm at side of front"


def test_seams_in_words_and_lengths(client: TestClient, garment: str) -> None:
    side = seam(got(client, garment), "side")
    assert (side["words_a"], side["words_b"]) == ("the side of front", "the side of back")
    gap = side["length_b_mm"] - side["length_a_mm"]
    assert gap == pytest.approx(math.hypot(20, 354) - math.hypot(20, 350), abs=2e-3)


def test_ease_lies_between_two_notches_or_all_along(client: TestClient, garment: str) -> None:
    view = got(client, garment)
    assert seam(view, "side")["ease_between"] is None
    front = edge(view, "front", "side")["id"]
    notches = [change(client, garment, "notch.set", {"edge": front, "mm": mm})["id"] for mm in (80, 160)]
    params = {"seam": seam(view, "side")["id"], "ease_mm": -4, "ease_between": notches}
    change(client, garment, "seam.ease", params)
    eased = seam(got(client, garment), "side")
    assert (eased["ease_between"], eased["ease_mm"]) == (notches, -4.0)


def test_findings_say_where_and_how_much(client: TestClient, garment: str) -> None:
    view = got(client, garment)
    (off,) = [f for f in view["findings"] if f["code"] == "seam-length"]
    assert (off["unit"], off["piece"], off["can_settle"]) == ("mm", "back", True)
    assert off["amount"] == pytest.approx(-3.99, abs=0.01)
    assert off["at"] == edge(view, "back", "side")["segments"][-1]["points"][-1]
    for fix in off["fixes"]:
        after = client.post(f"{garment}/preview", json={"kind": fix["kind"], "params": fix["params"]}).json()
        assert "seam-length" not in {f["code"] for f in after["findings"]}
        assert after["solved"] >= 1
    change(client, garment, off["fixes"][0]["kind"], off["fixes"][0]["params"])
    assert "seam-length" not in {f["code"] for f in got(client, garment)["findings"]}


def test_derived_pieces_and_their_recipes(client: TestClient, garment: str) -> None:
    view = got(client, garment)
    params = {
        "recipe": "facing",
        "name": "neck facing",
        "params": {"edges": [edge(view, "front", "neck")["id"]], "width_mm": 50},
    }
    made = change(client, garment, "recipe.add", params)
    view = got(client, garment)
    (recipe,), (facing,) = view["recipes"], view["derived"]
    assert (recipe["id"], recipe["pieces"], recipe["sources"]) == (made["id"], [facing["id"]], ["front"])
    assert (facing["name"], facing["recipe"]) == ("neck facing", recipe["id"])
    assert len(facing["cut_outline"]) > 4
    change(client, garment, "recipe.set", {"recipe_id": recipe["id"], "params": {"width_mm": 70}})
    wider = got(client, garment)["derived"][0]
    area = [Polygon(np.vstack([flat(e["segments"]) for e in f["edges"]])).area for f in (facing, wider)]
    assert area[1] > 1.2 * area[0]


def test_a_garment_that_did_not_change_is_not_sent_again(client: TestClient, garment: str) -> None:
    first = client.get(garment)
    tag = first.headers["etag"]
    again = client.get(garment, headers={"If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")
    change(client, garment, "pattern.rename", {"name": "x"})
    fresh = client.get(garment, headers={"If-None-Match": tag})
    assert (fresh.status_code, fresh.headers["etag"] != tag) == (200, True)


def test_numbers_leave_to_a_thousandth_and_small(client: TestClient, garment: str) -> None:
    side = seam(got(client, garment), "side")["id"]
    change(client, garment, "fit.take_in", {"seam": side, "knots": [[0, 0], [150, 7.77777], [340, 0]]})
    text = client.get(garment).text

    def numbers(value: Any) -> Iterator[float]:
        if isinstance(value, float):
            yield value
        elif isinstance(value, dict):
            for one in value.values():
                yield from numbers(one)
        elif isinstance(value, list):
            for one in value:
                yield from numbers(one)

    view = json.loads(text)
    found = [*numbers(view["pieces"]), *numbers(view["seams"])]
    assert len(found) > 200
    assert all(round(x, 3) == x for x in found)
    assert not any(x == 0 and math.copysign(1, x) < 0 for x in found)
    assert len(gzip.compress(text.encode())) < len(text) / 2


# ---------------------------------------------------------------- previews, proposals, walks


def test_a_preview_keeps_nothing(client: TestClient, garment: str) -> None:
    before = client.get(garment).content
    side = edge(got(client, garment), "front", "side")["id"]
    answer = client.post(
        f"{garment}/preview",
        json={"kind": "corner.move", "params": {"edge": side, "end": "start", "to": [190, 0]}},
    )
    seen = answer.json()
    assert seen["sentence"] == "Moved a corner of “side of front”."
    (moved,) = seen["changes"]
    assert moved["name"] == "front"
    assert edge({"pieces": [moved["before"]]}, "front", "hem")["length_mm"] == 200.0
    assert edge({"pieces": [moved["after"]]}, "front", "hem")["length_mm"] == 190.0
    assert client.get(garment).content == before


def test_proposals_are_those_not_said_yet(client: TestClient, garment: str) -> None:
    assert got(client, f"{garment}/proposals") == []
    side = seam(got(client, garment), "side")
    change(client, garment, "seam.drop", {"seam": side["id"]})
    (proposal,) = got(client, f"{garment}/proposals")
    assert {proposal["words_a"], proposal["words_b"]} == {"the side of front", "the side of back"}
    assert 0.5 < proposal["confidence"] <= 1.0
    assert proposal["why"].endswith(".")
    said = {key: proposal[key] for key in ("a", "b", "ease_mm", "b_mirrored")}
    made = change(client, garment, "seam.say", {**said, "name": "side"})
    assert got(client, f"{garment}/proposals") == []
    assert seam(got(client, garment), "side")["id"] == made["id"]


def test_both_sides_of_a_seam_laid_straight(client: TestClient, garment: str) -> None:
    view = got(client, garment)
    front, back = (edge(view, p, "side")["id"] for p in ("front", "back"))
    one = change(client, garment, "notch.set", {"edge": front, "mm": 100})["id"]
    other = change(client, garment, "notch.set", {"edge": back, "mm": 102})["id"]
    lonely = change(client, garment, "notch.set", {"edge": back, "mm": 250})["id"]
    walk = got(client, f"{garment}/seams/{seam(view, 'side')['id']}/walk")
    assert (walk["a"]["stretches"][0]["edge_name"], walk["b"]["stretches"][0]["piece_name"]) == (
        "side",
        "back",
    )
    (notch,) = walk["a"]["notches"]
    assert (notch["id"], notch["at_mm"], notch["pair"], notch["apart_mm"]) == (one, 100.0, other, 2.0)
    assert [(n["id"], n["pair"]) for n in walk["b"]["notches"]] == [(other, one), (lonely, None)]
    assert walk["difference_mm"] == pytest.approx(walk["a"]["length_mm"] - walk["b"]["length_mm"], abs=2e-3)
    running = np.array(walk["running"])
    assert running.shape == (41, 2)
    assert running[0].tolist() == [0.0, 0.0]
    assert running[-1] == pytest.approx([walk["a"]["length_mm"], walk["difference_mm"]], abs=2e-3)
    assert {j["at"] for j in walk["joins"]} <= {"start", "end"}
    for join in walk["joins"]:
        assert join["off_deg"] == pytest.approx(join["angle_a_deg"] + join["angle_b_deg"] - 180, abs=3e-3)
    assert {f["code"] for f in walk["findings"]} >= {"seam-length", "notch-apart", "notch-alone"}
    assert all(walk["seam"] in f["where"] for f in walk["findings"])


def test_the_line(client: TestClient, garment: str) -> None:
    pegs = got(client, f"{garment}/pegs")
    assert [p["room"] for p in pegs] == [
        "tracing", "pattern", "mock-ups", "cloth", "lay", "paper", "making", "ledger", "journal",
    ]  # fmt: skip
    assert max(len(json.dumps(p["picture"])) for p in pegs) < 9000


# ---------------------------------------------------------------- two windows


def test_the_second_window_learns_what_happened_and_overwrites_nothing(
    client: TestClient, garment: str
) -> None:
    seen = got(client, garment)["revision"]
    hem = edge(got(client, garment), "front", "hem")["id"]
    change(client, garment, "edge.set", {"edge": hem, "name": "lower edge"}, expected=seen)
    for address, body in (
        ("changes", {"kind": "edge.set", "params": {"edge": hem, "name": "bottom"}, "expected": seen}),
        ("preview", {"kind": "edge.set", "params": {"edge": hem, "name": "bottom"}, "expected": seen}),
        ("undo", {"expected": seen}),
        ("redo", {"expected": seen}),
    ):
        answer = client.post(f"{garment}/{address}", json=body)
        assert (answer.status_code, answer.json()["code"]) == (409, "changed-elsewhere")
        assert "Said that the hem of front is called “lower edge”." in answer.json()["sentence"]
    view = got(client, garment)
    assert view["revision"] == seen + 1
    assert edge(view, "front", "lower edge")["id"] == hem


# ---------------------------------------------------------------- what cannot be


def test_unknown_things_are_not_found(client: TestClient, garment: str) -> None:
    for address in (
        "/api/garments/nothing",
        "/api/garments/nothing/pegs",
        "/api/garments/nothing/proposals",
        "/api/garments/nothing/history",
        f"{garment}/seams/nothing/walk",
        f"{garment}/history/nothing",
    ):
        answer = client.get(address)
        assert (answer.status_code, answer.json()["code"]) == (404, "not-found")
        assert answer.json()["sentence"]


anything = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**20), 10**20)
    | st.floats(allow_nan=True)
    | st.text(max_size=8)
    | st.sampled_from(["front", "back", "start", "end", "nothing", "\ud800", "", "../..", "seam"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=8,
)
KEYS = (
    "id piece pieces edge edges seam name to end at at_mm mm fraction point points segments corners marks kind a b knots "
    "share_a apex intake_mm recipe recipe_id params sources code where value number count cuts along first second notch "
    "dart ease_mm traced_as allowance_mm keep only shift_mm turn_deg said cloth flaw polygon project amount paid items"
).split()


def test_garbage_is_refused_in_a_sentence(client: TestClient, garment: str, sewn: Room) -> None:
    """No params of any kind of change break the server; what is refused leaves the garment as it was."""
    kinds = sorted(k.name for k in sewn.garment_kinds)
    ids = [e.id for p in sewn.garment(TUNIC).pattern.pieces.values() for e in p.edges]
    ids += [*sewn.garment(TUNIC).pattern.seams, "front", "back"]

    @settings(max_examples=250, suppress_health_check=[HealthCheck.too_slow])
    @given(
        st.sampled_from(kinds),
        st.dictionaries(st.sampled_from(KEYS), anything | st.sampled_from(ids), max_size=6),
        st.booleans(),
    )
    def holds(kind: str, params: dict[str, Any], only_look: bool) -> None:
        before = sewn.garment(TUNIC).stored.revision
        address = f"{garment}/{'preview' if only_look else 'changes'}"
        answer = client.post(
            address,
            content=json.dumps({"kind": kind, "params": params}),
            headers={"Content-Type": "application/json"},
        )
        assert answer.status_code in (200, 400, 404, 409, 422), answer.text
        if answer.status_code != 200 or only_look:
            assert sewn.garment(TUNIC).stored.revision == before
        if answer.status_code != 200:
            assert set(answer.json()) == {"code", "sentence", "facts"}
            assert "mistake" not in answer.json()["sentence"], (kind, params, answer.text)
        else:
            assert client.get(garment).status_code == 200
            if not only_look:
                assert client.get(f"{garment}/pegs").status_code == 200
                assert client.get(f"{garment}/history?pictures=true").status_code == 200
                client.post(f"{garment}/undo", json={})

    holds()


BODIES: Sequence[Any] = (
    None,
    [],
    "text",
    7,
    {"kind": 5},
    {"kind": "edge.set", "params": []},
    {"surprise": 1},
)


@pytest.mark.parametrize("body", BODIES, ids=str)
@pytest.mark.parametrize(
    "door", ["changes", "preview", "undo", "redo", "history/x/switch", "history/x/amend"]
)
def test_bodies_of_another_form_are_refused(client: TestClient, garment: str, door: str, body: Any) -> None:
    before = client.get(garment).content
    answer = client.post(f"{garment}/{door}", json=body)
    assert 400 <= answer.status_code < 500
    assert set(answer.json()) == {"code", "sentence", "facts"}
    assert client.get(garment).content == before


@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe", b"[1,", b'{"kind": "edge.set", "params": NaN}'])
def test_no_json(client: TestClient, garment: str, content: bytes) -> None:
    for door in ("changes", "preview", "undo"):
        answer = client.post(
            f"{garment}/{door}", content=content, headers={"Content-Type": "application/json"}
        )
        assert (answer.status_code, answer.json()["code"]) == (400, "bad-input")
