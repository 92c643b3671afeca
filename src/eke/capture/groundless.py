"""Light of which the ground has none: a small thing's edge without the shadow beside it.

A card lies a fraction of a millimetre above the ground, and its shadow begins where it ends. In luminance the card, its
shadow and the lit ground are three levels, and where the card is about as dark as its shadow, the edge that is seen is
the rim of the shadow, some pixels outside. But a shadow has the ground's colour: its red, green and blue are those of the
lit ground times one number. So a mix of the three that comes to nothing for the ground comes to nothing for its
shadow too, and of all such mixes one shows the thing best. It is linear in light, as luminance is, so the half-way point
stays where it is. (The dichromatic model of matt things: S. A. Shafer, "Using color to separate reflection components",
1985; light from the sky tints a real shadow a little.)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["groundless"]

Array = NDArray[np.float64]

TURNS = 12  # mixes that are tried
LEAST_SAMPLES = 6
WEAKEST = 0.2  # quantile: of a thing in several colours the weakest stretch counts
NO_ROUGHNESS = 0.003  # of linear light: a level of an 8-bit picture
SEEN_ENOUGH = 5.0  # times the roughness of both sides
SHARE_OF_LUMINANCE = 0.5
LUMINANCE_WEIGHTS = (0.2126, 0.7152, 0.0722)  # ITU-R BT.709
DARK = 1e-3  # of linear light: too dark for a colour


def groundless(inside: Array, outside: Array) -> Array | None:
    """The mix (3,) of red, green and blue that best shows an edge and of which the ground has none.

    ``inside`` (n, a, 3) and ``outside`` (n, b, 3) are linear light on both sides of the edge at n places along it. None
    where the thing is not told from the ground by its colour, or luminance shows it far better.
    """
    whole = np.isfinite(inside).all(axis=(1, 2)) & np.isfinite(outside).all(axis=(1, 2))
    inside, outside = inside[whole], outside[whole]
    ground = outside.reshape(-1, 3)
    bright = np.linalg.norm(ground, axis=1)
    ground = ground[bright > DARK] / bright[bright > DARK, None]
    if len(inside) < LEAST_SAMPLES or not len(ground):
        return None
    across = np.linalg.svd(ground.mean(axis=0)[None])[2][1:]
    turns = np.arange(TURNS) * np.pi / TURNS
    mixes = np.column_stack([np.cos(turns), np.sin(turns)]) @ across
    *seen, plain = _seen(inside, outside, np.vstack([mixes, LUMINANCE_WEIGHTS]))
    best = int(np.argmax(seen))
    return mixes[best] if seen[best] > max(SEEN_ENOUGH, SHARE_OF_LUMINANCE * plain) else None


def _seen(inside: Array, outside: Array, mixes: Array) -> Array:
    """How clearly each mix (m, 3) shows an edge: its step there in units of the roughness of both sides."""
    a, b = inside @ mixes.T, outside @ mixes.T
    step = np.quantile(np.abs(np.median(a, axis=1) - np.median(b, axis=1)), WEAKEST, axis=0)
    rough = np.median(0.5 * (a.std(axis=1) + b.std(axis=1)), axis=0)
    return np.asarray(step / (rough + NO_ROUGHNESS))
