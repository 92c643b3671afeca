"""The questions themselves: each must be able to fail."""

import pytest

from eke.paper.page import Group, Page, Words

from .golden import FOLDER, same_as_golden
from .looks import check_writing, writing


def test_words_over_the_edge_are_caught():
    with pytest.raises(AssertionError):
        check_writing(Page(100, 100, (Words("far too long for this page", 60, 50, 6),)))


def test_small_words_are_caught():
    with pytest.raises(AssertionError):
        check_writing(Page(100, 100, (Words("small", 20, 50, 3),)))


def test_words_in_groups_are_seen_where_they_are():
    page = Page(100, 100, (Group((Words("a", 1, 2, 5),), 30, 40, 90),))
    (found,) = writing(page)
    assert (found.x_mm, found.y_mm, found.turn_deg) == pytest.approx((28, 41, 90))


def test_a_golden_file_that_differs_is_caught(monkeypatch):
    monkeypatch.delenv("EKE_GOLDEN", raising=False)
    kept = next(iter(sorted(FOLDER.glob("*.svg"))))
    text = kept.read_text(encoding="utf-8")
    same_as_golden(kept.name, text)
    with pytest.raises(AssertionError):
        same_as_golden(kept.name, text.replace("M", "N", 1))
    with pytest.raises(AssertionError):
        same_as_golden(kept.name, text + "more\n")
