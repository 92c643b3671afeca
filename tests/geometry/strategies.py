"""Random paths: chains of lines and cubics of the size of garment pieces."""

from __future__ import annotations

from hypothesis import strategies as st

from eke.geometry import Cubic, Line, Move, Path, Pt

coordinate = st.floats(-800.0, 800.0, allow_nan=False, width=32)
point = st.tuples(coordinate, coordinate)


@st.composite
def paths(draw: st.DrawFn, most: int = 4) -> Path:
    """Chains of one to ``most`` lines and cubics; no segment is shorter than a millimetre."""
    here: Pt = draw(point)
    segments = []
    for _ in range(draw(st.integers(1, most))):
        there = draw(point.filter(lambda p, h=here: abs(p[0] - h[0]) + abs(p[1] - h[1]) > 2.0))
        if draw(st.booleans()):
            segments.append(Line(here, there))
        else:
            segments.append(Cubic(here, draw(point), draw(point), there))
        here = there
    return Path(tuple(segments))


@st.composite
def gentle_curves(draw: st.DrawFn) -> Path:
    """One cubic over about 200 mm that turns no more tightly than a radius of some 40 mm."""
    a, b = draw(st.floats(-25.0, 25.0)), draw(st.floats(-25.0, 25.0))
    return Path((Cubic((0.0, 0.0), (70.0, a), (130.0, b), (200.0, draw(st.floats(-30.0, 30.0)))),))


@st.composite
def rigid_moves(draw: st.DrawFn) -> Move:
    move = Move.rotation(draw(st.floats(-180.0, 180.0)), draw(point)).then(Move.translation(*draw(point)))
    return move.then(Move.mirror((0.0, 0.0), (1.0, 2.0))) if draw(st.booleans()) else move


share = st.floats(0.02, 0.98)
