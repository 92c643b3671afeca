"""Darts: the numbers of the trade and what a transfer must not change."""

import math

import pytest
from shapely.geometry import Polygon

from eke.errors import BadInput, ChangeConflict
from eke.fit import add_dart, dart_angle_deg, transfer_dart
from eke.geometry.path import Path
from eke.pattern.model import Edge, EdgeId, EdgePlace, Pattern, Piece, PieceId, RunPart, Seam, SeamId


def bodice():
    # 400 wide, 400 high; dart point 200 mm above the waist and 150 from the side
    ring = [(0.0, 0.0), (400.0, 0.0), (400.0, 400.0), (0.0, 400.0), (0.0, 0.0)]
    names = ("waist", "side", "shoulder", "centre front")
    edges = tuple(
        Edge(EdgeId(n), Path.line(a, b), name=n) for n, a, b in zip(names, ring, ring[1:], strict=False)
    )
    front = Piece(PieceId("front"), "Front", edges, grain=((40.0, 50.0), (40.0, 300.0)))
    return Pattern("bodice").with_piece(front)


APEX = (250.0, 200.0)


def with_dart():
    return add_dart(bodice(), "waist", EdgePlace(EdgeId("waist"), mm=250.0), 30.0, APEX, "c1")


def area(pattern):
    return Polygon(pattern.piece("front").outline.flatten(0.01)).area


def legs(pattern):
    piece = pattern.piece("front")
    dart = piece.darts[0]
    return piece.edge(dart.first_leg).path, piece.edge(dart.second_leg).path


def angle(pattern):
    first, second = legs(pattern)
    return dart_angle_deg(math.dist(first.start, second.end), first.length_mm)


def test_dart_angle_of_the_trade():
    # trade.md 4.1: 30 mm at a leg of 200 is 8.602°, which is 22.5 at 150 and 34.5 at 230 (plain geometry)
    angle = dart_angle_deg(30.0, 200.0)
    assert angle == pytest.approx(8.602, abs=0.001)
    assert 2 * 150 * math.sin(math.radians(angle / 2)) == pytest.approx(22.5, abs=0.05)
    assert 2 * 230 * math.sin(math.radians(angle / 2)) == pytest.approx(34.5, abs=0.05)


def test_a_dart_takes_its_intake_out_of_the_edge():
    pattern = with_dart()
    piece = pattern.piece("front")
    first, second = legs(pattern)
    assert first.length_mm == pytest.approx(second.length_mm, abs=1e-9)
    rest = sum(e.path.length_mm for e in piece.edges if e.name == "waist")
    assert rest == pytest.approx(400.0 - 30.0, abs=1e-9)
    assert area(pattern) == pytest.approx(400.0 * 400.0 - 30.0 * 200.0 / 2, abs=1e-6)


@pytest.mark.parametrize(
    ("edge", "at"), [("side", 230.0), ("side", 60.0), ("shoulder", 120.0), ("centre front", 150.0)]
)
def test_a_transfer_keeps_angle_lengths_and_area(edge, at):
    before = with_dart()
    after = transfer_dart(
        before, before.piece("front").darts[0].id, edge, EdgePlace(EdgeId(edge), mm=at), "c2"
    )
    assert angle(after) == pytest.approx(angle(before), abs=0.01)
    assert area(after) == pytest.approx(area(before), abs=0.5)
    names = ("waist", "side", "shoulder", "centre front")
    for name in names:
        old = sum(e.path.length_mm for e in before.piece("front").edges if e.name == name)
        new = sum(e.path.length_mm for e in after.piece("front").edges if e.name == name)
        assert new == pytest.approx(old, abs=1e-6), name
    first, second = legs(after)
    assert first.length_mm == pytest.approx(second.length_mm, abs=1e-6)
    assert first.end == pytest.approx(APEX, abs=1e-9)
    # intake follows the leg: 2 L sin(θ/2)
    intake = math.dist(first.start, second.end)
    assert intake == pytest.approx(2 * first.length_mm * math.sin(math.radians(angle(before) / 2)), abs=0.01)
    assert after.piece("front").outline.is_closed


def test_there_and_back_is_the_same_outline():
    before = with_dart()
    dart = before.piece("front").darts[0].id
    there = transfer_dart(before, dart, "side", EdgePlace(EdgeId("side"), mm=200.0), "c2")
    waist_after = next(e for e in there.piece("front").edges if e.name == "waist" and e.path.length_mm > 200)
    back = transfer_dart(there, dart, waist_after.id, EdgePlace(waist_after.id, mm=200.0), "c3")
    assert angle(back) == pytest.approx(angle(before), abs=0.01)
    assert area(back) == pytest.approx(area(before), abs=0.5)


def test_seams_run_over_the_closed_dart():
    skirt = Piece(
        PieceId("skirt"),
        "Skirt",
        tuple(
            Edge(EdgeId(f"s{i}"), Path.line(a, b))
            for i, (a, b) in enumerate(
                [
                    ((0.0, 0.0), (400.0, 0.0)),
                    ((400.0, 0.0), (370.0, 300.0)),
                    ((370.0, 300.0), (0.0, 300.0)),
                    ((0.0, 300.0), (0.0, 0.0)),
                ]
            )
        ),
    )
    pattern = bodice().with_piece(skirt)
    seam = Seam(
        SeamId("w"),
        (RunPart(PieceId("front"), EdgeId("waist")),),
        (RunPart(PieceId("skirt"), EdgeId("s2"), True),),
    )
    made = add_dart(pattern.with_seam(seam), "waist", EdgePlace(EdgeId("waist"), mm=250.0), 30.0, APEX, "c1")
    run = made.seam("w").a
    assert len(run) == 2
    assert sum(made.edge(p.edge)[1].path.length_mm for p in run) == pytest.approx(370.0)


def test_refusals_name_what_would_work():
    pattern = bodice()
    with pytest.raises(BadInput, match="there 39 mm would"):
        add_dart(pattern, "waist", EdgePlace(EdgeId("waist"), mm=20.0), 60.0, APEX, "c1")
    with pytest.raises(BadInput, match="outside"):
        add_dart(pattern, "waist", EdgePlace(EdgeId("waist"), mm=250.0), 30.0, (900.0, 10.0), "c1")
    with pytest.raises(ChangeConflict):
        add_dart(pattern, "gone", EdgePlace(EdgeId("gone"), mm=250.0), 30.0, APEX, "c1")
    with pytest.raises(ChangeConflict):
        transfer_dart(pattern, "gone", "side", EdgePlace(EdgeId("side"), mm=200.0), "c2")
