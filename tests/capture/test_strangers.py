"""What lies beside the paper and is no reference gives no scale, unless the maker is told what it was taken for."""

import numpy as np
import pytest

from eke.capture.references import Reference
from eke.capture.survey import survey
from eke.errors import NotTrustworthy

from .strangers import (
    Laid,
    Stranger,
    beside,
    blank,
    foreign_sheet,
    playing_card,
    snapshot,
    telephone,
    visiting_card,
)

THINGS = {
    "foreign sheet": lambda at: foreign_sheet(at, 2.0),
    "photograph 10 x 15": lambda at: Stranger(
        "a4", at, 3.0, across_mm=(152.4, 101.6), paint=snapshot, z_mm=0.3
    ),
    "playing card": lambda at: Stranger(
        "a4", at, 3.0, across_mm=(88.0, 63.0), radius_mm=3.2, paint=playing_card, z_mm=0.3
    ),
    "telephone": lambda at: Stranger(
        "a4", at, 3.0, across_mm=(147.0, 71.5), radius_mm=9.5, paint=telephone, z_mm=8.0
    ),
    "visiting card": lambda at: Stranger(
        "a4", at, 3.0, across_mm=(85.0, 55.0), paint=visiting_card, z_mm=0.3
    ),
    "board of a card's shape": lambda at: Stranger(
        "a4", at, 3.0, across_mm=(171.2, 107.96), paint=visiting_card, z_mm=0.3
    ),
    "A5": lambda at: Stranger("a4", at, 3.0, across_mm=(210.0, 148.5), paint=blank),
}


def scale_error(got, taken):
    width, height = taken.truth["paper"]["outline_mm"][2]
    points = np.array(
        [[x, y] for x in np.linspace(20, width - 20, 5) for y in np.linspace(20, height - 20, 5)]
    )
    seen = got.camera.to_plane(taken.camera.project_upright(np.c_[points, np.zeros(len(points))]))
    a, b = seen - seen.mean(axis=0), points - points.mean(axis=0)
    return 100.0 * (np.sqrt((a**2).sum() / (b**2).sum()) - 1.0), got.length_percent(seen)


@pytest.fixture(scope="module", params=THINGS)
def stranger(request):
    return request.param, *beside(THINGS[request.param], 13, 14.0)


def asked(photo, kind, square=False):
    """(survey or None, refusal or None)"""
    try:
        return survey(photo, [Reference(kind)], square_paper=square), None
    except NotTrustworthy as no:
        return None, no


@pytest.mark.parametrize("square", [False, True])
def test_a_stranger_is_never_taken_in_silence(stranger, square):
    """The paper's square edges let a card be believed that alone shows too little of its shape; no stranger, though."""
    name, photo, _ = stranger
    got, no = asked(photo, "auto", square)
    if name == "A5":
        # it has all that an A4 sheet has: the maker is told what it was taken for
        assert any("taken for an A4 sheet" in w and "A5" in w for w in got.warnings)
        return
    assert no is not None
    assert no.data["reason"] in ("no reference", "unknown marks", "which reference")
    if no.data["reason"] == "which reference":
        assert no.data["answers"]
        assert len(no.data["places_px"]) == 4


def test_a_stranger_called_a_card_gives_no_wrong_scale_in_silence(stranger):
    name, photo, taken = stranger
    got, _ = asked(photo, "card")
    if (
        got is not None and name != "board of a card's shape"
    ):  # of that only its size is wrong, and it was said
        error, stated = scale_error(got, taken)
        assert abs(error) < stated or any("nothing shows whether it is one" in w for w in got.warnings)


def test_a_small_card_is_believed_beside_the_papers_square_edges():
    photo, taken = beside(lambda at: Laid("card", at, 4.0), 13, 14.0)
    assert asked(photo, "auto")[0] is None, "alone it shows too little of its shape"
    got, _ = asked(photo, "auto", square=True)
    assert got.reference == "card"
    assert any("looks like a bank card" in w for w in got.warnings)
    error, stated = scale_error(got, taken)
    assert abs(error) < stated < 2.5


@pytest.mark.parametrize("kind", ["a4", "letter"])
def test_real_ones_are_believed(kind):
    photo, taken = beside(lambda at: Laid(kind, at, 4.0), 13, 14.0)
    got = survey(photo, [Reference("auto")])
    assert got.reference == kind
    error, stated = scale_error(got, taken)
    assert abs(error) < stated < 3.0
