"""Random numbers inside kernels, from a state that each search owns: same seed, same numbers.

xorshift64* of Vigna (2016), "An experimental exploration of Marsaglia's xorshift generators, scrambled",
ACM Transactions on Mathematical Software 42(4).
"""

from __future__ import annotations

import numpy as np

from eke.lay.collide.tables import U64, kernel


@kernel
def uniform(rng: U64) -> float:
    """Return a number in [0, 1)."""
    x = rng[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    rng[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@kernel
def below(rng: U64, n: int) -> int:
    """Return a whole number in [0, n)."""
    return min(n - 1, int(uniform(rng) * n))
