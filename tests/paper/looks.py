"""Questions asked of every page: is all writing on the paper, large enough, and clear of the margin?"""

from __future__ import annotations

from eke.formats.faces import metrics
from eke.paper.page import LEAST_SIZE_MM, Group, Page, Words, flat, words_box


def writing(page: Page) -> list[Words]:
    """All words on a page that no clip may hide, in page coordinates."""

    def unclipped(items):
        for item in items:
            if isinstance(item, Group):
                if item.clip is None:
                    for inner in unclipped(item.items):
                        yield Group((inner,), item.dx_mm, item.dy_mm, item.turn_deg)
            else:
                yield item

    return [item for item in flat(tuple(unclipped(page.items))) if isinstance(item, Words)]


def check_writing(page: Page, margin_mm: float = 3.0) -> int:
    """Assert that words stay on the page and are no smaller than 16 px; return how many there are."""
    found = writing(page)
    for words in found:
        assert words.size_mm >= LEAST_SIZE_MM * 0.998, words
        box = words_box(words, metrics())
        low, high = box.min(axis=0), box.max(axis=0)
        assert low.min() >= margin_mm - 0.01, words
        assert high[0] <= page.width_mm - margin_mm + 0.01, words
        assert high[1] <= page.height_mm - margin_mm + 0.01, words
    return len(found)
