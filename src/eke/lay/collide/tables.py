"""The flat tables that all kernels read and write: which number stands in which column.

Kernels see arrays only. A *shape* is one part outline (grown by half the gap) about its own centre; a
*piece* is one copy of a shape that is being laid; a *region* is what one sheet leaves free for one kind
of shape (edge, holes, forbidden zones and locked parts are all taken off it: each is a hazard).
Lengths inside the kernels are scaled, so that the same tolerances suit a doll's dress and a sail.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]
F32 = NDArray[np.float32]
I64 = NDArray[np.int64]
U64 = NDArray[np.uint64]

# columns of Field.shape_i
SI_V, SI_NV, SI_P, SI_NP, SI_A, SI_NA, SI_MIRROR, SI_CLASS, SI_RAIL, SI_NRAIL = range(10)
# columns of Field.shape_f
SF_RADIUS, SF_PENALTY, SF_DIAMETER, SF_SIDE, SF_TILT, SF_AREA = range(6)
# columns of Field.region_i
RI_E, RI_NE, RI_R, RI_NR, RI_G, RI_NX, RI_NY = range(7)
# columns of Field.region_f
RF_X0, RF_Y0, RF_X1, RF_Y1, RF_GX, RF_GY, RF_H, RF_SHARE = range(8)
# columns of Field.rails: sheet, turn, mirrored, start of the reference point, direction, length
RL_SHEET, RL_TURN, RL_MIRROR, RL_X, RL_Y, RL_DX, RL_DY, RL_LENGTH = range(8)
# columns of State.piece_i
PI_SHAPE, PI_SHEET, PI_TURN, PI_MIRROR, PI_ON, PI_V, PI_P, PI_GROUP, PI_FIXED = range(9)
# columns of State.piece_f
PF_X, PF_Y, PF_TH, PF_X0, PF_Y0, PF_X1, PF_Y1 = range(7)
# entries of State.tally
C_CURSOR, C_ORDER, C_PASSES, C_TRIED, C_MOVES = range(5)


class Field(NamedTuple):
    """What does not change during a search."""

    shape_i: I64
    shape_f: F64
    vx: F64
    vy: F64
    px: F32
    py: F32
    pr: F32
    turns: F64
    region_i: I64
    region_f: F64
    edges: F64
    rings: F64
    grid: F32
    rails: F64


class State(NamedTuple):
    """Where everything lies now, and what the search has learnt."""

    piece_i: I64
    piece_f: F64
    wx: F64
    wy: F64
    qx: F32
    qy: F32
    qr: F32
    loss: F64
    weight: F64
    limit: F64
    order: I64
    tally: I64
    rng: U64
    sx: F64
    sy: F64
    tx: F32
    ty: F32
    box: F64
    row: F64
    ia: I64
    ib: I64
    cand: F64


_Function = TypeVar("_Function", bound=Callable[..., object])


def kernel(function: _Function) -> _Function:
    """Compile a kernel that makes no arrays of its own; kept on disk, free of the interpreter lock.

    ``_nrt=False`` leaves out the reference counts that numba otherwise takes on every array of ``Field``
    and ``State`` at every call between kernels: they are four fifths of the time of a small kernel.
    ``error_model="numpy"`` leaves out tests for division by zero, which keep loops from being vectorised.
    """
    from numba import njit

    compiled: _Function = njit(cache=True, nogil=True, _nrt=False, error_model="numpy")(function)
    return compiled
