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
# whether it must lie on a rail; its first row of phases, and how many rules a sheet
SI_MUST, SI_PHASE, SI_NPHASE = range(10, 13)
# columns of Field.shape_f
SF_RADIUS, SF_PENALTY, SF_DIAMETER, SF_SIDE, SF_TILT, SF_AREA = range(6)
# columns of Field.region_i
RI_E, RI_NE, RI_R, RI_NR, RI_G, RI_NX, RI_NY = range(7)
# columns of Field.region_f
RF_X0, RF_Y0, RF_X1, RF_Y1, RF_GX, RF_GY, RF_H, RF_SHARE = range(8)
# columns of Field.rails: sheet, turn, mirrored, start of the reference point, direction, length, exact angle
RL_SHEET, RL_TURN, RL_MIRROR, RL_X, RL_Y, RL_DX, RL_DY, RL_LENGTH, RL_TH = range(9)
# columns of Field.phases, for each shape one row a sheet and rule: point of the shape, direction of the repeat,
# period (0: the sheet has no such repeat), where the phase is 0 along the direction, tolerance, whether the piece
# is moved to keep this rule (and not only looked at)
RP_X, RP_Y, RP_DX, RP_DY, RP_PERIOD, RP_ZERO, RP_TOL, RP_LEAD = range(8)
# columns of State.piece_i
PI_SHAPE, PI_SHEET, PI_TURN, PI_MIRROR, PI_ON, PI_V, PI_P, PI_GROUP, PI_FIXED = range(9)
# columns of State.piece_f: place, angle, box, tilt that is shared with others, then the phase of each rule
PF_X, PF_Y, PF_TH, PF_X0, PF_Y0, PF_X1, PF_Y1, PF_TILT, PF_PHASE = range(9)
# entries of State.box: the box of the posed shape, then the matching points of its phase rules
B_POINTS = 4
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
    phases: F64


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


def without_reference_counts() -> dict[str, bool]:
    """Return the option that makes kernels leave out reference counts, if numba (still) has it.

    Otherwise numba counts the references to every array of ``Field`` and ``State`` at every call between
    kernels: two thirds of the time. No documented option does the same: inlining by LLVM (``forceinline``) was
    measured too, see ``docs/explanation/lay.md``. So the name with the underscore is used in this one place, and
    without it everything works, more slowly.
    """
    try:
        from numba.core.cpu import CPUTargetOptions
    except ImportError:
        return {}
    return {"_nrt": False} if hasattr(CPUTargetOptions, "_nrt") else {}


def kernel(function: _Function) -> _Function:
    """Compile a kernel that makes no arrays of its own; kept on disk, free of the interpreter lock.

    ``error_model="numpy"`` leaves out tests for division by zero, which keep loops from being vectorised.
    """
    return _compiled(function, fastmath=False)


def vector_kernel(function: _Function) -> _Function:
    """Compile a :func:`kernel` whose sums may be taken in any order, as vectors of several numbers at once."""
    return _compiled(function, fastmath=True)


def _compiled(function: _Function, *, fastmath: bool) -> _Function:
    from numba import njit

    options = without_reference_counts()
    made: _Function = njit(cache=True, nogil=True, error_model="numpy", fastmath=fastmath, **options)(
        function
    )
    return made
