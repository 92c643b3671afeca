"""What pages can be written as: one entry a format, one file a format."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from eke.errors import BadInput, NotFound
from eke.paper.page import Page

__all__ = ["PageFormat", "format_for", "page_formats"]

Pictures = Mapping[str, bytes]


@dataclass(frozen=True, slots=True)
class PageFormat:
    """A way to write pages.

    Attributes
    ----------
    suffix
        Of the file's name, with its dot, in small letters.
    what
        What a maker gets.
    many
        Whether several pages go into one file.
    write
        (pages, title, pictures by key) to bytes.
    """

    suffix: str
    what: str
    many: bool
    write: Callable[[Sequence[Page], str, Pictures], bytes]


def page_formats() -> dict[str, PageFormat]:
    """Return all formats by suffix. Heavy libraries are loaded when a format is used, not before."""
    formats = (
        PageFormat(".pdf", "pages at true scale, for printing", True, _pdf),
        PageFormat(".svg", "one page as a drawing, for a browser or a drawing program", False, _svg),
        PageFormat(".png", "one page as a picture of 150 dots to the inch", False, _png),
    )
    return {one.suffix: one for one in formats}


def format_for(name: str, formats: Mapping[str, PageFormat] | None = None) -> PageFormat:
    """Return the format that a file called ``name`` asks for.

    Raises
    ------
    NotFound
        When its ending is none that pages can be written as.
    """
    known = page_formats() if formats is None else formats
    for suffix, one in known.items():
        if name.lower().endswith(suffix):
            return one
    endings = ", ".join(known)
    raise NotFound(f"“{name}” does not say how to write the pages. End the name with one of {endings}.")


def _only(pages: Sequence[Page], suffix: str) -> Page:
    if len(pages) != 1:
        raise BadInput(
            f"A {suffix} file holds one page, and there are {len(pages)}. Write a PDF, or one file for each page."
        )
    return pages[0]


def _pdf(pages: Sequence[Page], title: str, pictures: Pictures) -> bytes:
    from eke.formats.pdf import pages_to_pdf

    return pages_to_pdf(pages, title=title, pictures=pictures)


def _svg(pages: Sequence[Page], title: str, pictures: Pictures) -> bytes:
    from eke.formats.svg import page_to_svg

    del title
    return page_to_svg(_only(pages, ".svg"), pictures=pictures).encode("utf-8")


def _png(pages: Sequence[Page], title: str, pictures: Pictures) -> bytes:
    from eke.formats.png import page_to_png

    del title
    return page_to_png(_only(pages, ".png"), pictures=pictures)
