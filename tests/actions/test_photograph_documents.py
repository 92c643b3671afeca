"""A photograph as documents: kept whole or not at all, described, traced, made into pieces and cloths."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from shapely.geometry import Polygon

from eke.actions import found, history, photographs, straightened
from eke.actions.found_camera import camera_from, camera_json
from eke.actions.room import Room, open_room
from eke.actions.work import trace_job
from eke.capture.camera import Camera
from eke.errors import BadInput, BadPicture, ChangeConflict, NotFound, NotTrustworthy
from eke.jobs import Report
from eke.pattern.hand import with_hand
from helpers import pictures, tunic

TUNIC = tunic.TUNIC


@pytest.fixture(scope="module")
def seen() -> dict[str, Any]:
    """What the job finds on a photograph of a pocket and a strap, with a card for scale."""
    return trace_job(
        Report(), data=pictures.demo_photograph(), name="pocket", references=[{"kind": "card"}], square_paper=True,
        cloth=False, touches=[],
    )  # fmt: skip


@pytest.fixture
def taken(sewn: Room, seen: dict[str, Any]) -> photographs.Photograph:
    """That photograph, taken in for the tunic, said what lies on it, and traced."""
    taken = photographs.take_in_photograph(sewn, TUNIC, pictures.demo_photograph(), "pocket.jpg")
    taken = photographs.say_of_photograph(sewn, taken.id, references=[{"kind": "card"}], square_paper=True)
    return found.keep_found(sewn, taken.id, seen, taken.said)


def test_a_photograph_is_kept_with_its_bytes(sewn: Room) -> None:
    data = pictures.plain_jpeg()
    one = photographs.take_in_photograph(sewn, TUNIC, data, "front.jpg")
    assert (one.name, one.width_px, one.height_px, one.state, one.cloth) == (
        "front.jpg",
        800,
        600,
        "new",
        False,
    )
    assert [p.id for p in photographs.photographs_of(sewn, TUNIC)] == [one.id]
    assert photographs.photographs_of(sewn, "shelf") == ()
    with sewn.store.read() as reader:
        assert reader.photo_bytes(one.photo) == data
        assert reader.photo(one.photo).width_px == 800


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b"not a picture at all", "not a picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a picture"),
        (pictures.plain_jpeg()[:700], "damaged or was cut short"),
        (pictures.plain_jpeg(200, 150), "too few"),
        (pictures.bomb_png(), "million"),
    ],
)
def test_what_is_no_picture_leaves_nothing(sewn: Room, data: bytes, says: str) -> None:
    with pytest.raises(BadPicture, match=says):
        photographs.take_in_photograph(sewn, TUNIC, data, "front.jpg")
    with sewn.store.read() as reader:
        assert reader.photos() == ()
        assert reader.documents("photograph") == ()


def test_a_garment_that_is_not_there_leaves_nothing(sewn: Room) -> None:
    with pytest.raises(NotFound):
        photographs.take_in_photograph(sewn, "nobody", pictures.plain_jpeg(), "front.jpg")
    with sewn.store.read() as reader:
        assert reader.photos() == ()


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../etc/passwd.jpg", "passwd.jpg"),
        ("C:\\Users\\me\\..\\front.jpg", "front.jpg"),
        ("a\0b\n\x1b[31m.jpg", "ab[31m.jpg"),
        ("..", "photograph"),
        ("", "photograph"),
        ("x" * 500 + ".jpg", "x" * 120),
        ("Rücken, größer.heic", "Rücken, größer.heic"),
    ],
)
def test_a_name_is_only_ever_a_name(sewn: Room, name: str, shown: str) -> None:
    before = {p for p in sewn.folder.parent.rglob("*") if "photos" not in p.parts}
    assert photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), name).name == shown
    assert {p for p in sewn.folder.parent.rglob("*") if "photos" not in p.parts} == before


def test_heic_is_taken_in(room: Room) -> None:
    data = pictures.demo_photograph("03-back-newspaper-sheet.heic")
    one = photographs.take_in_photograph(room, "shelf", data, "back.heic", cloth=True)
    # upright by its EXIF: the truth beside it was made with this size
    assert (one.width_px, one.height_px) == (2448, 3264)
    with room.store.read() as reader:
        assert reader.photo(one.photo).media_type == "image/heic"


def test_the_same_picture_is_on_the_table_once(sewn: Room) -> None:
    first = photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), "a.jpg")
    photographs.put_aside(sewn, first.id)
    assert photographs.photographs_of(sewn, TUNIC) == ()
    again = photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), "b.jpg")
    assert (again.id, again.aside) == (first.id, False)
    assert len(photographs.photographs_of(sewn, TUNIC)) == 1


def test_photographs_lie_in_the_order_in_which_they_came(sewn: Room) -> None:
    names = [f"{n}.jpg" for n in range(12)]
    for grey, name in enumerate(names):
        photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(grey=100 + grey), name)
    assert [p.name for p in photographs.photographs_of(sewn, TUNIC)] == names


def test_aside_and_back_again(sewn: Room) -> None:
    one = photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), "a.jpg")
    done = photographs.put_aside(sewn, one.id)
    assert done.sentence == "Took “a.jpg” off the table."
    assert photographs.photographs_of(sewn, TUNIC) == ()
    assert [p.aside for p in photographs.photographs_of(sewn, TUNIC, aside=True)] == [True]
    photographs.bring_back(sewn, one.id)
    assert [p.id for p in photographs.photographs_of(sewn, TUNIC)] == [one.id]


# ---------------------------------------------------------------- saying


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ({"references": [{"kind": "ruler"}]}, "no reference"),
        ({"references": [{"kind": "a4", "corners_px": [[0, 0], [1, 1]]}]}, "four corners"),
        ({"references": [{"kind": "points", "from_px": [0, 0], "to_px": [90, 0]}]}, "distance"),
        ({"references": [{"kind": "sheet", "check_line_mm": 24.0}]}, "check line"),
        (
            {"references": [{"kind": "a4", "corners_px": [[0, 0], [1, "x"], [1, 1], [2, 2]]}]},
            "cannot be read",
        ),
        ({"references": [{"kind": "a4"}] * 30}, "too many"),
        ({"touches": [{"x_px": 9000, "y_px": 1}]}, "outside the picture"),
        ({"touches": [{"x_px": 1, "y_px": 1, "side": "?"}]}, "inside"),
    ],
)
def test_what_makes_no_sense_is_not_kept(sewn: Room, said: dict[str, Any], says: str) -> None:
    one = photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), "a.jpg")
    with pytest.raises(BadInput, match=says):
        photographs.say_of_photograph(sewn, one.id, **said)
    assert photographs.photograph(sewn, one.id) == one


def test_what_is_left_out_stays(sewn: Room) -> None:
    one = photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), "a.jpg")
    photographs.say_of_photograph(sewn, one.id, square_paper=True, touches=[{"x_px": 5, "y_px": 6}])
    then = photographs.say_of_photograph(sewn, one.id, references=[{"kind": "a4"}], name="front")
    assert (then.square_paper, then.touches) == (True, ({"x_px": 5.0, "y_px": 6.0, "side": "+"},))
    assert (then.references, then.name, then.state) == (({"kind": "a4"},), "front", "new")


# ---------------------------------------------------------------- tracing


def test_what_was_found_survives_the_program(
    tmp_path: Path, sewn: Room, taken: photographs.Photograph
) -> None:
    assert taken.state == "found"
    sewn.close()
    with open_room(sewn.folder) as again:
        assert photographs.photograph(again, taken.id) == taken


def test_what_is_said_later_makes_it_changed_and_no_name_does(
    sewn: Room, taken: photographs.Photograph
) -> None:
    assert photographs.say_of_photograph(sewn, taken.id, name="other").state == "found"
    assert photographs.say_of_photograph(sewn, taken.id, square_paper=False).state == "changed"
    assert photographs.say_of_photograph(sewn, taken.id, square_paper=True).state == "found"


def test_a_tracing_that_ends_late_is_of_what_was_said_when_it_began(sewn: Room, seen: dict[str, Any]) -> None:
    one = photographs.take_in_photograph(sewn, TUNIC, pictures.demo_photograph(), "a.jpg")
    photographs.say_of_photograph(sewn, one.id, square_paper=True, name="meanwhile")
    late = found.keep_found(sewn, one.id, seen, one.said)
    assert (late.state, late.name, late.square_paper) == ("changed", "meanwhile", True)


def test_why_there_is_no_scale_is_kept(sewn: Room) -> None:
    one = photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), "a.jpg")
    with pytest.raises(NotTrustworthy) as refused:
        trace_job(
            Report(), data=pictures.plain_jpeg(), name="a.jpg", references=one.references, square_paper=False,
            cloth=False, touches=[],
        )  # fmt: skip
    kept = found.keep_refused(sewn, one.id, refused.value, one.said)
    assert (kept.state, kept.refused, kept.found) == ("refused", refused.value.message, None)
    assert photographs.say_of_photograph(sewn, one.id, references=[{"kind": "a4"}]).state == "changed"


def test_corners_that_cannot_be_are_shown_where_they_are(sewn: Room) -> None:
    one = photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), "a.jpg")
    corners = [[10, 10], [300, 12], [302, 402], [9, 399]]
    photographs.say_of_photograph(sewn, one.id, references=[{"kind": "a4", "corners_px": corners}])
    kept = found.keep_refused(sewn, one.id, NotTrustworthy("No.", reason="corners"), one.said)
    assert [list(p) for p in kept.refused_px] == corners


def test_over_the_photograph_is_where_the_camera_sees_it(seen: dict[str, Any]) -> None:
    """Checked with OpenCV's own camera model (projectPoints), not with ours."""
    cv2 = pytest.importorskip("cv2")
    camera = seen["camera"]
    matrix = np.array([[camera["focal_px"], 0, camera["centre_px"][0]], [0, camera["focal_px"], camera["centre_px"][1]], [0, 0, 1]])  # fmt: skip
    for piece in seen["pieces"]:
        corners = np.array(piece["corners"])
        world = np.column_stack([corners[:, 0], -corners[:, 1], np.zeros(len(corners))])
        px, _ = cv2.projectPoints(
            world, np.array(camera["rotation_rad"]), np.array(camera["translation_mm"]), matrix,
            np.array([camera["k1"], camera["k2"], camera["p1"], camera["p2"]]),
        )  # fmt: skip
        np.testing.assert_allclose(px.reshape(-1, 2), piece["corners_px"], atol=0.02)


def test_the_camera_of_an_older_tracing_is_read(seen: dict[str, Any]) -> None:
    """Tracings from before tangential terms were solved for have none."""
    older = {k: v for k, v in seen["camera"].items() if k not in ("p1", "p2")}
    assert camera_json(camera_from(older)) == {**older, "p1": 0.0, "p2": 0.0}
    assert camera_json(camera_from(seen["camera"])) == seen["camera"]


def test_a_straight_edge_bends_with_the_lens() -> None:
    """Through a strong lens the middle of a straight edge is off its chord; the drawn outline has to show it."""
    lens = Camera(
        (3000, 2000), 2400.0, (1500.0, 1000.0), -0.25, 0.0, np.zeros(3), np.array([0.0, 0.0, 1000.0])
    )
    square = np.array([[-500.0, -300.0], [500.0, -300.0], [500.0, 300.0], [-500.0, 300.0]])
    drawn = np.array(found.over_photograph(lens, square))
    middle = lens.project(np.array([[0.0, -300.0]]))[0]
    chord = lens.project(square[:2]).mean(axis=0)
    assert np.hypot(*(middle - chord)) > 20.0  # so there is something to show
    a, b = drawn, np.roll(drawn, -1, axis=0)
    t = np.clip(np.sum((middle - a) * (b - a), axis=1) / np.sum((b - a) ** 2, axis=1), 0, 1)
    assert np.hypot(*(a + t[:, None] * (b - a) - middle).T).min() < 0.5
    assert len(drawn) < 200


def test_the_straightened_picture_lies_where_it_says(sewn: Room, taken: photographs.Photograph) -> None:
    """The drawn line is dark: in the straightened picture it lies under the outline that was found, in mm."""
    data = straightened.straightened(sewn, taken.id, 4000)
    picture = np.asarray(Image.open(io.BytesIO(data)).convert("L"), dtype=float)
    assert max(picture.shape) == 4000
    left, bottom, width, height = taken.found["box_mm"]
    per_mm = picture.shape[1] / width
    assert per_mm == pytest.approx(picture.shape[0] / height, rel=2e-3)
    ring = Polygon(taken.found["pieces"][0]["outline"])

    def grey(off_mm: float) -> float:
        line = ring.buffer(off_mm).exterior
        points = np.array([line.interpolate(t, normalized=True).coords[0] for t in np.linspace(0, 1, 600)])
        column = ((points[:, 0] - left) * per_mm - 0.5).round().astype(int)
        row = ((bottom + height - points[:, 1]) * per_mm - 0.5).round().astype(int)
        return float(picture[row, column].mean())

    offs = np.arange(-3.0, 3.01, 0.25)
    greys = [grey(off) for off in offs]
    assert abs(offs[int(np.argmin(greys))]) <= 0.25
    assert max(greys) - min(greys) > 10.0  # the line is there: a quarter of a millimetre of soft pencil


def test_sizes_that_are_none(sewn: Room, taken: photographs.Photograph) -> None:
    shown = Image.open(io.BytesIO(straightened.shown_photo(sewn, taken.photo, 500)))
    assert (shown.format, max(shown.size)) == ("JPEG", 500)
    with pytest.raises(BadInput):
        straightened.shown_photo(sewn, taken.photo, 0)
    with pytest.raises(BadInput):
        straightened.shown_photo(sewn, "../secret", 500)
    fresh = photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), "a.jpg")
    with pytest.raises(NotFound, match="not been traced"):
        straightened.straightened(sewn, fresh.id, 500)


# ---------------------------------------------------------------- pieces


def test_a_piece_is_made_of_an_outline(sewn: Room, taken: photographs.Photograph) -> None:
    done = found.take_piece(
        sewn, taken.id, "1", "pocket", traced_as="finished", traced_by="pins", worn=True, count=1, pairs=True
    )
    pattern = sewn.garment(TUNIC).pattern
    piece = pattern.piece(done.id)
    row = taken.found["pieces"][0]
    assert (piece.name, len(piece.edges)) == ("pocket", len(row["corners"]))
    assert (piece.cuts[0].count, piece.cuts[0].pairs) == (1, True)
    assert pattern.tracings[piece.tracing].photo == taken.photo
    assert pattern.tracings[piece.tracing].uncertainty_mm == with_hand(row["uncertainty_mm"], "pins", True)
    assert photographs.photograph(sewn, taken.id).made["pieces"] == {"1": done.id}


def test_a_piece_is_turned_with_all_that_is_marked_on_it(sewn: Room, taken: photographs.Photograph) -> None:
    """Upside down is a half turn: the same piece about the origin, its corners, notches and grain with it."""
    upright = found.take_piece(sewn, taken.id, "2", "strap")
    turned = found.take_piece(sewn, taken.id, "2", "strap turned", turn_deg=180)
    pattern = sewn.garment(TUNIC).pattern
    one, other = pattern.piece(upright.id), pattern.piece(turned.id)
    assert len(one.edges) == len(other.edges)
    for a, b in zip(one.edges, other.edges, strict=True):
        assert a.path.length_mm == pytest.approx(b.path.length_mm, abs=1e-6)
        np.testing.assert_allclose(-a.path.flatten(), b.path.flatten(), atol=1e-6)
    for p, q in zip(one.marks, other.marks, strict=True):
        assert p.kind == q.kind
        np.testing.assert_allclose(-np.array(p.points), q.points, atol=1e-9)
    assert len(one.notches) == len(other.notches)
    assert (one.grain is None) == (other.grain is None)
    if one.grain is not None and other.grain is not None:
        np.testing.assert_allclose(-np.array(one.grain), other.grain, atol=1e-9)
    with pytest.raises(BadInput, match="quarter turns"):
        found.take_piece(sewn, taken.id, "2", "askew", turn_deg=30)


def test_it_is_the_piece_that_was_traced(sewn: Room, taken: photographs.Photograph) -> None:
    """The kept document yields what the trace itself does, to the rounding of the document."""
    from eke.actions.tracing import trace_photo
    from eke.capture.references import Reference

    path = pictures.DEMO / pictures.POCKET_AND_STRAP
    trace = trace_photo(path, references=[Reference("card")], square_paper=True)
    seen = trace.pieces[1].found
    done = found.take_piece(sewn, taken.id, "2", "kept")
    kept = sewn.garment(TUNIC).pattern.piece(done.id)
    ring = np.vstack([seen.outline_mm, seen.outline_mm[:1]])
    around = float(np.hypot(*np.diff(ring, axis=0).T).sum())
    assert sum(e.path.length_mm for e in kept.edges) == pytest.approx(around, abs=0.05)
    assert len(kept.edges) == len(seen.corners_mm)
    assert Polygon(kept.outline.flatten()).area == pytest.approx(Polygon(seen.outline_mm).area, rel=1e-4)


def test_corners_are_the_makers(sewn: Room, taken: photographs.Photograph) -> None:
    row = taken.found["pieces"][1]
    moved = [list(p) for p in reversed(row["corners"])]  # in any order
    more = [*moved, row["outline"][len(row["outline"]) // 2]]
    done = found.take_piece(sewn, taken.id, "2", "strap", corners=more)
    assert len(sewn.garment(TUNIC).pattern.piece(done.id).edges) == len(more)
    with pytest.raises(BadInput, match="off the outline"):
        found.take_piece(sewn, taken.id, "2", "strap", corners=[[9999, 9999], *moved])
    before = sewn.garment(TUNIC).stored.revision
    with pytest.raises(BadInput):
        found.take_piece(sewn, taken.id, "2", "strap", corners=[moved[0], moved[0], moved[1]])
    assert sewn.garment(TUNIC).stored.revision == before


def test_corners_are_kept_until_it_is_traced_again(
    sewn: Room, taken: photographs.Photograph, seen: dict[str, Any]
) -> None:
    row = taken.found["pieces"][1]
    more = [*row["corners"], row["outline"][len(row["outline"]) // 2]]
    moved = found.move_corners(sewn, taken.id, "2", list(reversed(more)))
    assert moved.state == "found"
    corners, corners_px = found.corners_of(moved, row)
    assert sorted(map(tuple, corners)) == sorted(map(tuple, more))
    assert len(corners_px) == len(more)
    assert found.corners_of(moved, taken.found["pieces"][0])[0] == taken.found["pieces"][0]["corners"]
    done = found.take_piece(sewn, taken.id, "2", "strap")
    assert len(sewn.garment(TUNIC).pattern.piece(done.id).edges) == len(more)
    for wrong in ([[9999, 9999], *more], [more[0], more[0]]):
        with pytest.raises(BadInput):
            found.move_corners(sewn, taken.id, "2", wrong)
    with pytest.raises(NotFound):
        found.move_corners(sewn, taken.id, "9", more)
    assert found.corners_of(found.move_corners(sewn, taken.id, "2", None), row)[0] == row["corners"]
    found.move_corners(sewn, taken.id, "2", more)
    assert found.keep_found(sewn, taken.id, seen, taken.said).corners == {}


def test_a_refusal_in_between_forgets_nothing_that_was_made(
    sewn: Room, taken: photographs.Photograph, seen: dict[str, Any]
) -> None:
    done = found.take_piece(sewn, taken.id, "1", "pocket")
    for _ in range(2):
        refused = found.keep_refused(sewn, taken.id, NotTrustworthy("No.", reason="dark"), taken.said)
        assert (refused.state, refused.found) == ("refused", None)
    assert found.keep_found(sewn, taken.id, seen, taken.said).made["pieces"] == {"1": done.id}


def test_a_piece_taken_back_is_not_made_any_more_and_done_again_is(
    sewn: Room, taken: photographs.Photograph
) -> None:
    done = found.take_piece(sewn, taken.id, "1", "pocket")
    history.take_back(sewn, TUNIC)
    assert done.id not in sewn.garment(TUNIC).pattern.pieces
    history.do_again(sewn, TUNIC)
    assert photographs.photograph(sewn, taken.id).made["pieces"]["1"] == done.id
    assert done.id in sewn.garment(TUNIC).pattern.pieces


def test_tracing_again_keeps_the_edges(sewn: Room, taken: photographs.Photograph) -> None:
    done = found.take_piece(sewn, taken.id, "2", "strap")
    edges = [e.id for e in sewn.garment(TUNIC).pattern.piece(done.id).edges]
    again = found.take_piece(sewn, taken.id, "2", "strap", again=done.id)
    assert again.id == done.id
    assert {e.id for e in sewn.garment(TUNIC).pattern.piece(done.id).edges} == set(edges)
    with pytest.raises(ChangeConflict) as unsure:
        found.take_piece(sewn, taken.id, "1", "strap", again=done.id)
    assert set(unsure.value.data["unsure"]) <= set(edges)
    assert "“edge 1”" in unsure.value.message
    assert not any(id_ in unsure.value.message for id_ in edges)


def test_a_new_tracing_still_knows_what_was_made(
    sewn: Room, taken: photographs.Photograph, seen: dict[str, Any]
) -> None:
    done = found.take_piece(sewn, taken.id, "1", "pocket")
    turned = json.loads(json.dumps(seen))
    turned["pieces"].reverse()
    for number, row in enumerate(turned["pieces"], start=1):
        row["name"] = str(number)
    assert found.keep_found(sewn, taken.id, turned, taken.said).made["pieces"] == {"2": done.id}


def test_what_was_not_found_cannot_be_taken(sewn: Room, taken: photographs.Photograph) -> None:
    with pytest.raises(NotFound, match="It has: 1, 2"):
        found.take_piece(sewn, taken.id, "9", "x")
    with pytest.raises(NotFound, match="no cloth"):
        found.take_cloth(sewn, taken.id, "1", "x")
    fresh = photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), "a.jpg")
    with pytest.raises(NotFound, match="not been traced"):
        found.take_piece(sewn, fresh.id, "1", "x")


def test_a_photograph_of_the_shelf_yields_no_piece(room: Room, seen: dict[str, Any]) -> None:
    one = photographs.take_in_photograph(room, "shelf", pictures.demo_photograph(), "a.jpg")
    found.keep_found(room, one.id, seen, one.said)
    with pytest.raises(BadInput, match="lies on the shelf"):
        found.take_piece(room, one.id, "1", "x")


# ---------------------------------------------------------------- cloth


def test_an_edge_that_meets_itself_by_a_thread_is_still_a_cloth(room: Room, seen: dict[str, Any]) -> None:
    """A border followed pixel by pixel may turn a loop of a tenth of a mm; the cloth is the same without it."""
    one = photographs.take_in_photograph(room, "shelf", pictures.plain_jpeg(), "cloth.jpg", cloth=True)
    loop = [
        [0.0, 0.0],
        [400.0, 0.0],
        [400.0, 300.0],
        [200.1, 300.0],
        [199.9, 300.1],
        [200.1, 300.1],
        [199.9, 300.0],
        [0.0, 300.0],
    ]
    row = {
        "name": "1",
        "outline": loop,
        "outline_px": loop,
        "holes": [],
        "holes_px": [],
        "flaws": [],
        "flaws_px": [],
    }
    row |= {"grain_deg": None, "repeat_mm": [None, None], "uncertainty_mm": 1.0}
    found.keep_found(room, one.id, {**seen, "pieces": [], "cloths": [row]}, one.said)
    assert not Polygon(loop).is_valid
    done = found.take_cloth(room, one.id, "1", "curtain")
    assert room.shelf().reserved_by(done.id) == ()
    cloth = room.shelf().cloths[done.id]
    assert Polygon(cloth.outline).is_valid
    assert cloth.area_mm2 == pytest.approx(400 * 300, rel=1e-4)


def test_a_cloth_photographed_for_a_project_is_kept_for_it_in_one_step(
    sewn: Room, seen: dict[str, Any]
) -> None:
    one = photographs.take_in_photograph(sewn, "shelf", pictures.plain_jpeg(), "cloth.jpg", cloth=True)
    ring = [[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]]
    row = {
        "name": "1",
        "outline": ring,
        "outline_px": ring,
        "holes": [],
        "holes_px": [],
        "flaws": [],
        "flaws_px": [],
    }
    row |= {"grain_deg": None, "repeat_mm": [None, None], "uncertainty_mm": 1.0}
    found.keep_found(sewn, one.id, {**seen, "pieces": [], "cloths": [row]}, one.said)
    with pytest.raises(NotFound):
        found.take_cloth(sewn, one.id, "1", "curtain", project="nowhere")
    assert not any(cloth.name == "curtain" for cloth in sewn.shelf().cloths.values())
    project = next(iter(sewn.shelf().projects.values()))
    done = found.take_cloth(sewn, one.id, "1", "curtain", project=project.id)
    assert [r.project for r in sewn.shelf().reserved_by(done.id)] == [project.id]
    assert "Kept “curtain”" in done.sentence
    assert photographs.photograph(sewn, one.id).made["cloths"] == {"1": done.id}


@pytest.mark.slow
def test_a_cloth_comes_from_its_photograph(room: Room) -> None:
    """The demo's second curtain: its outline against the truth that its photograph was drawn from."""
    data = pictures.demo_photograph("07-curtain-cut-a4.jpg")
    truth = json.loads((pictures.DEMO / "truth" / "07-curtain-cut-a4.json").read_text(encoding="utf-8"))
    one = photographs.take_in_photograph(room, "shelf", data, "curtain.jpg", cloth=True)
    seen = trace_job(
        Report(),
        data=data,
        name="curtain",
        references=[{"kind": "a4"}],
        square_paper=False,
        cloth=True,
        touches=[],
    )
    found.keep_found(room, one.id, seen, one.said)
    done = found.take_cloth(room, one.id, "1", "curtain", said={"grain_deg": 90.0, "origin": "flea market"})
    cloth = room.shelf().cloths[done.id]
    assert (cloth.grain_deg, cloth.origin, cloth.photos) == (90.0, "flea market", (one.photo,))
    assert photographs.photograph(room, one.id).made["cloths"] == {"1": done.id}
    assert cloth.area_mm2 == pytest.approx(Polygon(truth["cloth"]["outline_mm"]).area, rel=0.02)
    with pytest.raises(BadInput, match="id of a cloth"):
        found.take_cloth(room, one.id, "1", "curtain", said={"id": "mine"})
