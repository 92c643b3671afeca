"""The ways in which references may lie in a picture: each is tried, and what speaks against it is counted.

The same card is found as several quadrangles, a card seen from above looks nearly like one turned and seen from the side, and
print may have a card's shape; only solved does each show what it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.aspect import not_that_shape, refuse_other_shape
from eke.capture.evidence import Body, DistanceEvidence, EdgeEvidence, LensPrior
from eke.capture.light import Light
from eke.capture.photo import Photo
from eke.capture.round_corners import CARD_RADIUS_MM, corner_radius_mm
from eke.capture.rounds import FIRST_REACH_PX, NEXT_REACH_PX, WARN_CHI2, State, one_size, rounds, start
from eke.capture.seeds import MAX_TILT_DEG, Seed
from eke.errors import NotTrustworthy

__all__ = ["Way", "best_start", "sure", "ways_to_lie"]

Array = NDArray[np.float64]
Way = tuple[float, State, list[str]]
"""What speaks against it, as it was solved, and notes for the maker."""

GOOD_SCORE = (
    3.0  # what lies there as it was taken for has about 1; an edge that ran after a card's print has 2 to 7
)
UNSEEN_SCORE = 8.0  # of edges that were not seen along any of their length
CLEARLY_SEEN = 0.5  # share of the length of each of its edges
SCALE_DISAGREEMENT = 0.04
MOST_TRIES, LAST_TRIES = 8, 16  # of ways to lie; the last ones where none before looked like what was named
SHARP_SCORE = 30.0  # of a "card" without a card's round corners: print, a label, a window of a drawing
OTHER_SHAPE_SCORE = 1000.0  # what has another shape is taken only to say so


def best_start(
    photo: Photo,
    light: Light,
    lens: LensPrior,
    options: Sequence[Sequence[Seed]],
    distances: Sequence[DistanceEvidence],
    notes: list[str],
    check: Callable[[], None] | None = None,
    known: Sequence[Way] = (),
) -> State:
    """Solve with the likeliest way each reference may lie there; try the next where its edges are not seen.

    ``known`` are ways that were tried before.
    """
    ways = ways_to_lie(photo, light, lens, options, distances, check=check, known=known)
    if not ways:
        names = ", ".join(dict.fromkeys(o[0].body.name for o in options))
        raise NotTrustworthy(
            f"The edges of the reference ({names}) are not seen clearly enough. Lay it flat on a ground that differs "
            "from it, without glare, and take the picture again.",
            reason="reference unclear",
        )
    _, best, more = ways[0]
    one_size(best.seeds, best.solution.camera, SCALE_DISAGREEMENT)
    if best.other_ratio is not None:
        refuse_other_shape(best.bodies[0], best.other_ratio)
    notes += more
    return best


def ways_to_lie(
    photo: Photo,
    light: Light,
    lens: LensPrior,
    options: Sequence[Sequence[Seed]],
    distances: Sequence[DistanceEvidence],
    *,
    every: bool = False,
    check: Callable[[], None] | None = None,
    known: Sequence[Way] = (),
) -> list[Way]:
    """(score, state, notes) of the ways in which the references may lie there, the best first; as far as the first that
    leaves nothing to be desired, or ``every`` one that is tried; with those ``known`` from before. ``check`` is called before each
    and may raise to stop."""
    ranked = sorted(options, key=lambda o: {"sheet": 0, "a4": 1, "letter": 1, "card": 2}[o[0].body.kind])
    pick = [0] * len(ranked)
    out = list(known)
    for number in range(LAST_TRIES):
        if number >= MOST_TRIES and any(way[0] < SHARP_SCORE for way in out):
            break
        if check is not None:
            check()
        seeds = [o[p] for o, p in zip(ranked, pick, strict=True)]
        idle = _ends_as_another(seeds, out) or (not every and _no_better_card(seeds, out))
        most = math.inf if every else min((way[0] for way in out), default=math.inf)
        got = None if idle else _scored(photo, light, lens, seeds, distances, most)
        if got is not None:
            out.append(got)
            if got[0] < GOOD_SCORE and not every:
                break
        loose = next((i for i in range(len(ranked)) if pick[i] + 1 < len(ranked[i])), None)
        if loose is None:
            break
        pick[loose] += 1
    return sorted(out, key=lambda w: w[0])


def _ends_as_another(seeds: Sequence[Seed], ways: Sequence[Way]) -> bool:
    """Has a way that was tried already ended where these seeds begin? From within the first reach the same edges are seen."""
    return any(
        len(state.bodies) == len(seeds) and all(_lies_as(seed, state, i) for i, seed in enumerate(seeds))
        for _, state, _ in ways
    )


def _lies_as(seed: Seed, state: State, number: int) -> bool:
    if seed is state.seeds[number]:
        return True
    if seed.body.kind == "sheet" or seed.body.kind != state.bodies[number].kind:
        return False
    apart = _apart_px(seed, _corners_px(state, number))
    return min(apart[0], apart[2]) < FIRST_REACH_PX  # turned by half a turn it is the same


def _no_better_card(seeds: Sequence[Seed], ways: Sequence[Way]) -> bool:
    """Was a card seen of whose four edges and round corners nothing is left to be desired, so that these seeds are none: do they
    lie elsewhere, across it, or within it?

    What reaches beyond it is another matter: one of its edges may have run after print on the card.
    """
    best = min(ways, key=lambda way: way[0], default=None)
    cards = [i for i, seed in enumerate(seeds) if seed.body.kind == "card"]
    # of two cards the second lies elsewhere
    if best is None or not sure(best) or len(best[1].bodies) != len(seeds) or len(cards) != 1:
        return False
    seed, state = seeds[cards[0]], best[1]
    card = _corners_px(state, cards[0])
    ring = card.astype(np.float32)
    x, y = seed.points_px.mean(axis=0).tolist()
    if cv2.pointPolygonTest(ring, (x, y), False) < 0:
        return True
    apart = _apart_px(seed, card)
    if min(apart[1], apart[3]) < min(apart[0], apart[2]):
        # its sides are 1 to 1.586: one of two that lie across each other would be seen from 66 degrees aside or more
        return state.solution.camera.tilt_deg < MAX_TILT_DEG
    return all(cv2.pointPolygonTest(ring, (x, y), True) > -FIRST_REACH_PX for x, y in seed.points_px.tolist())


def sure(way: Way) -> bool:
    """Is nothing left to be desired but a better fit? An unseen edge, sharp corners and such that are not seen count more; round
    corners may be seen while an edge runs past a card's print."""
    score, state, _ = way
    as_a_card = state.sharp == 0.0 and state.least_seen >= CLEARLY_SEEN
    return score < (2.0 * WARN_CHI2 if as_a_card else WARN_CHI2)


def _corners_px(state: State, number: int) -> Array:
    """Where a state draws the corners of one of its bodies, (n, 2)."""
    body, solution = state.bodies[number], state.solution
    return solution.camera.project(solution.poses[number].place(body.outline_mm), body.height_mm)


def _apart_px(seed: Seed, corners_px: Array) -> list[float]:
    """How far a rectangle's seed is at most from corners (4, 2), for each of the four corners that may be its first one."""
    gaps = [np.roll(corners_px, turn, axis=0) - seed.points_px for turn in range(4)]
    return [float(np.hypot(gap[:, 0], gap[:, 1]).max()) for gap in gaps]


def _scored(
    photo: Photo,
    light: Light,
    lens: LensPrior,
    seeds: Sequence[Seed],
    distances: Sequence[DistanceEvidence],
    most: float,
) -> Way | None:
    """(what speaks against it, state, notes) of one way; None where the edges are not seen, or ``most`` and more speaks against
    it before it is solved."""
    started = start(photo, lens, seeds, distances)
    if started is None:
        return None
    bodies, camera, poses, extras, notes, kept = started

    def worth(edges: Sequence[EdgeEvidence], least_seen: float) -> bool:
        return _unseen(bodies, edges, least_seen) < most

    near, far = (NEXT_REACH_PX,), (FIRST_REACH_PX, NEXT_REACH_PX)
    best: tuple[float, State] | None = None
    # a seed that lies well already is only led astray by what is further away
    for reaches in (near,) if all(b.kind == "sheet" for b in bodies) else (far, near):
        state = rounds(light, lens, bodies, camera, poses, distances, reaches, extras, kept, worth=worth)
        if state is None or not all(_well_seen(state, i) for i in range(len(bodies))):
            continue
        score, state = _score(light, lens, state, distances)
        if best is None or score < best[0]:
            best = score, state
        if score < GOOD_SCORE:
            break
    return None if best is None else (*best, notes)


def _unseen(bodies: Sequence[Body], edges: Sequence[EdgeEvidence], least_seen: float) -> float:
    """What speaks against a way by edges of rectangles that were not seen, or not along all of their length."""
    whole = sum(len(b.edges) for b in bodies if b.kind != "sheet")
    missing = whole - sum(1 for e in edges if bodies[e.body].kind != "sheet")
    return WARN_CHI2 * missing + UNSEEN_SCORE * (1.0 - least_seen)


def _well_seen(state: State, index: int) -> bool:
    """True when enough edges of a body carry the answer."""
    body = state.bodies[index]
    count = sum(1 for e in state.edges if e.body == index)
    return body.kind == "sheet" or count >= 3


def _score(
    light: Light, lens: LensPrior, state: State, distances: Sequence[DistanceEvidence]
) -> tuple[float, State]:
    """What speaks against a solved state, and the state with what its shape says."""
    bodies = state.bodies
    score = state.solution.chi2 + _unseen(bodies, state.edges, state.least_seen)
    # several things check each other; a single one has only its shape to show for itself
    if not distances:
        ratio, sigma = not_that_shape(lens, bodies, state.edges, state.solution)
        state = replace(state, other_ratio=ratio, shape_sigma=sigma)
        score += OTHER_SHAPE_SCORE if ratio is not None else 0.0
    corners = _sharp_corners(light, state)
    state = replace(state, sharp=corners)
    if corners >= SHARP_SCORE and not distances:
        state = replace(state, shape_sigma=math.inf)  # whatever its sides are, it does not look like a card
    return score + corners, state


def _sharp_corners(light: Light, state: State) -> float:
    """What speaks against the cards of a state: corners that are not round as the standard's, or not to be seen."""
    total = 0.0
    for body, pose in zip(state.bodies, state.solution.poses, strict=True):
        if body.kind == "card":
            radius = corner_radius_mm(light, state.solution.camera, body, pose)
            if radius is None:
                total += WARN_CHI2
            elif not CARD_RADIUS_MM[0] <= radius <= CARD_RADIUS_MM[1]:
                total += SHARP_SCORE
    return total
