"""Ways in which a card may lie: which are tried, and which cannot end better than one that was."""

from dataclasses import replace

import numpy as np
import pytest

from eke.capture import ways
from eke.capture.evidence import LensPrior, rectangle_body
from eke.capture.light import light_of
from eke.capture.seeds import Seed
from eke.capture.ways import ways_to_lie

from .scene import Lens
from .test_cards import photograph

LENS = Lens(above_mm=(340.0, -60.0, 680.0), look_at_mm=(360.0, 210.0))
BODY = rectangle_body("card")


@pytest.fixture(scope="module")
def picture():
    """A photograph of a card, and the seed that lies on it."""
    photo, corners = photograph(LENS, (685.0, 210.0), 3.0)
    px = LENS.project(corners)
    near = [np.roll(way, k, axis=0) for way in (px, px[::-1]) for k in range(4)]
    # as its body runs: the way in which the camera would need no tilt to speak of
    side = np.ptp(BODY.outline_mm, axis=0)

    def fits(way):
        first, second = (np.hypot(*(way[i + 1] - way[i])) for i in (0, 1))
        own = np.hypot(*(BODY.outline_mm[1] - BODY.outline_mm[0]))
        x, y = way.T
        turns_left = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0
        return turns_left and (first > second) == (own > side.min() + 1.0)

    return photo, Seed(BODY, BODY.outline_mm, next(way for way in near if fits(way)), 6.0)


def tried(photo, seeds, monkeypatch, **asked):
    """The corners of the seeds that were solved from, and the ways."""
    places = []
    scored = ways._scored

    def counted(*args):
        places.append(args[3][0].points_px)
        return scored(*args)

    with monkeypatch.context() as patch:
        patch.setattr(ways, "_scored", counted)
        light = light_of(photo.pixels_rgb)
        got = ways_to_lie(photo, light, LensPrior(photo.focal_px_prior, 0.02), [list(seeds)], [], **asked)
    return places, got


def moved(seed, by):
    return replace(seed, points_px=seed.points_px + by)


@pytest.mark.parametrize("score", [ways.WARN_CHI2 - 1.0, ways.SHARP_SCORE])
def test_what_begins_where_another_ended_is_not_solved_again(score, picture, monkeypatch):
    """Whatever speaks against the first: from so near the same edges are seen."""
    photo, seed = picture
    monkeypatch.setattr(ways, "_score", lambda light, lens, state, distances: (score, state))
    places, got = tried(photo, [seed, moved(seed, 5.0), moved(seed, -8.0)], monkeypatch)
    assert len(places) == len(got) == 1
    half_round = replace(seed, points_px=np.roll(seed.points_px, 2, axis=0))
    assert len(tried(photo, [seed, half_round], monkeypatch)[0]) == 1


def test_beside_a_sure_card_only_what_reaches_beyond_it_is_tried(picture, monkeypatch):
    photo, seed = picture
    elsewhere = moved(seed, [-900.0, 0.0])
    across = replace(seed, points_px=np.roll(seed.points_px, 1, axis=0))
    middle = seed.points_px.mean(axis=0)
    smaller, larger = (
        replace(seed, points_px=middle + share * (seed.points_px - middle)) for share in (0.7, 1.4)
    )
    seeds = [seed, elsewhere, across, smaller, larger]
    monkeypatch.setattr(ways, "_score", lambda light, lens, state, distances: (ways.WARN_CHI2 - 1.0, state))
    places, _ = tried(photo, seeds, monkeypatch)
    beyond = [np.array_equal(at, larger.points_px) for at in places]
    assert beyond == [False, True], "those edges may be print"
    more = ways.WARN_CHI2 + 1.0
    monkeypatch.setattr(ways, "_score", lambda light, lens, state, distances: (more, state))
    assert len(tried(photo, seeds, monkeypatch)[0]) == 2, "an edge past print is no doubt of round corners"
    for doubt in ({"sharp": ways.WARN_CHI2}, {"least_seen": 0.3}):
        monkeypatch.setattr(
            ways, "_score", lambda light, lens, state, distances, d=doubt: (more, replace(state, **d))
        )
        assert len(tried(photo, seeds, monkeypatch)[0]) == 5, "of one that is not sure all are"
    monkeypatch.setattr(ways, "_score", lambda light, lens, state, distances: (1.0, state))
    assert len(tried(photo, seeds, monkeypatch, every=True)[0]) == 5
    assert len(tried(photo, seeds, monkeypatch)[0]) == 1


def test_a_true_card_is_sure(picture, monkeypatch):
    """Its edges and its round corners, measured: nothing that lies elsewhere is tried after it."""
    photo, seed = picture
    places, got = tried(photo, [seed, moved(seed, [-900.0, 0.0])], monkeypatch)
    assert len(places) == 1
    assert got[0][0] < ways.WARN_CHI2


def test_what_is_seen_too_little_to_be_the_best_is_not_solved(picture, monkeypatch):
    """Where two edges are not there, the way can only end worse than one that was."""
    photo, seed = picture
    light, lens = light_of(photo.pixels_rgb), LensPrior(photo.focal_px_prior, 0.02)
    (best,) = ways_to_lie(photo, light, lens, [[seed]], [])
    # on two of its sides it reaches far beyond the card
    beyond = replace(seed, points_px=seed.points_px + 60.0 * (seed.points_px - seed.points_px[0] != 0.0))
    solved = []
    monkeypatch.setattr(ways, "_score", lambda light, lens, state, distances: solved.append(state))
    known = [(ways.WARN_CHI2, best[1], [])]
    assert ways._scored(photo, light, lens, [beyond], [], known[0][0]) is None
    assert not solved
