"""What shape a rectangle has, when its two sides are not taken from the standard that was named.

Solved with its known shape, a wrong thing can hide: the camera is tilted until a square looks like a card, and the
edges are hardly further off than those of a right one. Set free, the shape comes out with its uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from eke.capture.evidence import A4_MM, CARD_MM, LETTER_MM, Body, BodyPose, EdgeEvidence, Extra, LensPrior
from eke.capture.solve import Solution, solve
from eke.errors import NotTrustworthy

__all__ = [
    "ASPECT_SIGMAS",
    "UNCHECKED_SIGMA",
    "aspect_tolerance",
    "free_aspect",
    "not_that_shape",
    "refuse_other_shape",
    "unchecked",
]

ASPECT_SIGMAS = 3.3
FREE_SIGMA = 0.2
STATED_SIGMAS = 2.5  # somebody may have named the wrong thing; what is refused by chance is soon taken again
UNCHECKED_SIGMA = 0.015  # a picture card differs by 0.06 from a bank card, Letter by 0.044 from A4
STATED_LEAST = 0.008  # half a difference of 1.6 %: what somebody has named is doubted only beyond this
LIKE_SHARE = 0.02  # of the ratio of both sides


def _extra(body: Body) -> int:
    return next(k for k, e in enumerate(body.extras) if e.name == "aspect")


def aspect_tolerance(body: Body) -> float:
    """Standard deviation of a body's aspect by its standard, in the unit of :func:`free_aspect`."""
    return body.extras[_extra(body)].sigma


def free_aspect(
    lens: LensPrior, bodies: Sequence[Body], edges: Sequence[EdgeEvidence], solution: Solution
) -> tuple[float, float]:
    """(value, sigma) of half the share by which height over width is less than it should be, for the first body."""
    got = _set_free(lens, bodies, edges, solution)
    return got.extras[0]["aspect"], got.extra_sigmas[0]["aspect"]


def _set_free(
    lens: LensPrior, bodies: Sequence[Body], edges: Sequence[EdgeEvidence], solution: Solution
) -> Solution:
    """Solved again with the aspect of the first body free."""
    free = list(bodies[0].extras)
    free[_extra(bodies[0])] = Extra("aspect", FREE_SIGMA, True)
    return solve(
        solution.camera.size_px, lens, [replace(bodies[0], extras=tuple(free)), *bodies[1:]], edges,
        camera=solution.camera, poses=[BodyPose((0.0, 0.0), 0.0, bodies[0].scale), *solution.poses[1:]], passes=1,
    )  # fmt: skip


def not_that_shape(
    lens: LensPrior, bodies: Sequence[Body], edges: Sequence[EdgeEvidence], solution: Solution
) -> tuple[float | None, float]:
    """Of the one rectangle in the picture: long side over short side, or None when it may be what was named;
    and the standard deviation with which its aspect was seen. The paper may stand beside it and tell the tilt."""
    if any(b.kind != "paper" for b in bodies[1:]) or bodies[0].kind not in ("a4", "letter", "card"):
        return None, 0.0
    free = _set_free(lens, bodies, edges, solution)
    off, sigma = free.extras[0]["aspect"], free.extra_sigmas[0]["aspect"]
    limit = max(STATED_LEAST, STATED_SIGMAS * math.hypot(sigma, aspect_tolerance(bodies[0])))
    # of a small thing that is seen from the side, shape and tilt hang together in no straight line: how much better
    # another shape fits says more than how many of its standard deviations it is away
    gained = (solution.misfit - free.misfit) / max(1.0, free.unexplained)
    if abs(off) <= limit or gained <= ASPECT_SIGMAS**2:
        return None, sigma
    size = np.ptp(bodies[0].outline_mm, axis=0) * [1.0 + off, 1.0 - off]
    return float(size.max() / size.min()), sigma


def unchecked(body: Body) -> str:
    """That nothing in the picture shows whether a thing has the shape that was named."""
    return (
        f"The {body.name} is so small or so unclear in the picture that nothing shows whether it is one. If it is something "
        "else, all lengths are wrong: go nearer, or lay a larger reference."
    )


def refuse_other_shape(body: Body, ratio: float) -> None:
    """Say that what lies there has another shape than what was named, and which where it is a known one."""
    known = {"a4": A4_MM, "letter": LETTER_MM, "card": CARD_MM}
    own = max(known[body.kind]) / min(known[body.kind])
    others = {k: max(s) / min(s) for k, s in known.items() if k != body.kind}
    like = [k for k, r in others.items() if abs(ratio / r - 1.0) < LIKE_SHARE and k != "card"]
    if like and body.kind != "card":
        other = "an A4 sheet" if like[0] == "a4" else "a Letter sheet"
        raise NotTrustworthy(
            f"The sheet in the picture has the shape of {other}, not of the {body.name} that was named. Say which one lies "
            "there.",
            reason="a4 or letter",
            answers=[{"kind": like[0]}],
        )
    raise NotTrustworthy(
        f"What lies in the picture does not have the shape of the {body.name} that was named: its longer side is {ratio:.2f} "
        f"times its shorter one, not {own:.2f}. Say what lies there, put the four corners on it, or lay it quite flat and "
        "take the picture again.",
        reason="other shape",
    )
