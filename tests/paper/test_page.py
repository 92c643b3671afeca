import numpy as np
import pytest

from eke.errors import BadInput, NotFound
from eke.formats.faces import metrics
from eke.paper import styles
from eke.paper.page import (
    Area,
    Group,
    Page,
    Stroke,
    Words,
    disc,
    flat,
    moved,
    points,
    rectangle,
    segment,
    words_box,
)
from eke.paper.sizes import PAPERS, paper_named
from eke.units import MM_PER_INCH


def test_iso_216_sizes():
    # ISO 216: A0 has 1 m² and sides 1 to √2; each size halves the one before, rounded down to a millimetre.
    # The rounded A0 is 841 × 1189; checked against trade.md 9.11's published values.
    a0 = PAPERS["a0"]
    assert (a0.width_mm, a0.height_mm) == (round(1000 / 2**0.25), round(1000 * 2**0.25))
    for larger, smaller in (("a0", "a1"), ("a1", "a2"), ("a2", "a3"), ("a3", "a4")):
        big, small = PAPERS[larger], PAPERS[smaller]
        assert (small.width_mm, small.height_mm) == (big.height_mm // 2, big.width_mm)


def test_letter_is_size_a_of_asme_y14_1():
    letter = paper_named(" Letter ")
    assert (letter.width_mm, letter.height_mm) == (8.5 * MM_PER_INCH, 11 * MM_PER_INCH)
    assert (letter.lying().width_mm, letter.lying().height_mm) == (11 * MM_PER_INCH, 8.5 * MM_PER_INCH)


def test_unknown_paper_names_the_known_ones():
    with pytest.raises(NotFound, match="A4"):
        paper_named("foolscap")


def test_page_without_room_is_refused():
    with pytest.raises(BadInput):
        Page(0, 100)


@pytest.mark.parametrize("bad", [[[1, 2, 3]], [1, 2], [[1, float("nan")]], [[1, float("inf")]]])
def test_points_must_be_finite_pairs(bad):
    with pytest.raises(BadInput):
        points(bad)


def test_moved_turns_then_moves_counter_clockwise():
    assert moved(np.array([[1.0, 0.0]]), 10, 20, 90)[0] == pytest.approx([10, 21])


def test_flat_carries_groups_in_groups():
    inner = Group((Stroke((segment(1, 0, 2, 0),), styles.CUT), Area((rectangle(0, 0, 1, 1),))), 5, 0, 90)
    stroke, area = flat((Group((inner,), 100, 0, 90),))
    # by hand: (1, 0) → turned 90: (0, 1) → moved: (5, 1) → turned 90: (−1, 5) → moved: (99, 5)
    assert stroke.lines[0][0] == pytest.approx([99, 5])
    assert area.rings[0][0] == pytest.approx([100, 5])


def test_disc_stays_within_three_thousandths_of_its_radius():
    ring = disc(3, 4, 10)
    assert np.hypot(*(ring - [3, 4]).T) == pytest.approx(10)
    middle = (ring + np.roll(ring, -1, axis=0)) / 2
    assert np.hypot(*(middle - [3, 4]).T).min() > 10 * 0.9965


def test_words_box_follows_anchor_and_turn():
    m = metrics()
    width = m.width_mm("Front", "title", 6)
    box = words_box(Words("Front", 50, 50, 6, "title", "end", 90), m)
    # read upwards and ending at (50, 50): the box hangs below, and leans to the left of the baseline
    assert box[:, 1].max() == pytest.approx(50)
    assert box[:, 1].min() == pytest.approx(50 - width)
    assert box[:, 0].min() == pytest.approx(50 - 0.78 * 6)


def test_lines_of_a_pattern_differ_without_colour():
    kinds = [styles.CUT, styles.SEAM, styles.FOLD, styles.BALANCE]
    looks = {tuple(round(d / s.width_mm, 3) for d in s.dash_mm) for s in kinds}
    assert len(looks) == len(kinds)


def test_dashes_follow_iso_128():
    # ISO 128-2 (from memory): dash 12 d, long dash 24 d, gap 3 d, dot ½ d
    assert styles.dashes(0.5, "long", "dot", "dot") == (12, 1.5, 0.25, 1.5, 0.25, 1.5)
    assert styles.SEAM.dash_mm == pytest.approx((12 * 0.35, 3 * 0.35))
    assert styles.CUT.dash_mm == ()


def test_ink_is_dark_enough_on_white():
    # WCAG 2.2, success criterion 1.4.3: a contrast of 4.5 to 1 for text
    def luminance(colour):
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    for colour in (styles.INK, styles.QUIET, styles.ROSE, styles.BLUE):
        for ground in (styles.WHITE, styles.TINT):
            assert (luminance(ground) + 0.05) / (luminance(colour) + 0.05) >= 4.5, (colour, ground)
