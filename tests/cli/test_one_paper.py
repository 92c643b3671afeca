"""``eke trace --one-paper``: what cannot be joined is said before any picture is measured, and a real joining by files."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from eke.cli.tracing import numbered_touch_from
from eke.errors import BadInput

from .conftest import one_sentence
from .test_bad_input import picture


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("a.png",), "2 to 12 photographs"),
        (("a.png", "b.png", "--touch", "3:10:10:+"), "no picture 3"),
        (("a.png", "b.png", "--touch", "0:10:10:+"), "no picture 0"),
        (("a.png", "b.png", "--touch", "x:10:10:+"), "no touch"),
        (("a.png", "b.png", "--reference", "a4,corners=1:1;9:1;9:9;1:9"), "places in one picture"),
        (
            ("a.png", "b.png", "--reference", "points,from=1:1,to=90:1,distance_mm=100"),
            "places in one picture",
        ),
    ],
)
def test_what_makes_no_sense(eke, words: tuple[str, ...], says: str) -> None:
    for name in ("a.png", "b.png"):
        picture().save(name)
    said = one_sentence(eke("trace", *words, "--one-paper", "--json", "out.json", code=2))
    assert says in said
    assert not Path("out.json").exists()


def test_which_picture_gives_no_scale_is_said(eke) -> None:
    for name in ("a.png", "b.png"):
        picture().save(name)
    said = one_sentence(eke("trace", "a.png", "b.png", "--one-paper", "--json", "out.json", code=3))
    assert "Picture 1: " in said
    assert not Path("out.json").exists()


def test_a_touch_says_its_picture() -> None:
    assert numbered_touch_from("2:810:655:+") == (2, (810.0, 655.0, "+"))
    assert numbered_touch_from("810:655:-") == (1, (810.0, 655.0, "-"))
    for text in ("", "1:2", "-1:2:3:+", "1:2:3:4:+", "a:1:2:+"):
        with pytest.raises(BadInput, match="no touch"):
            numbered_touch_from(text)


@pytest.mark.slow
def test_two_files_become_one_piece(eke) -> None:
    from capture.test_join import PIECE, lens, paper, photo

    plane = paper()
    for name, x, seed in (("left.jpg", 330.0, 3), ("right.jpg", 810.0, 4)):
        exif = Image.Exif()
        exif.get_ifd(0x8769)[0xA405] = 26  # mm, of a frame of 36 x 24: 900 pixels of these pictures
        Image.fromarray(photo(plane, lens(x), seed).pixels_rgb).save(name, quality=95, exif=exif)
    said = eke(
        "trace", "left.jpg", "right.jpg", "--one-paper", "--reference", "sheet,check_line_mm=240", "--json", "out.json"
    )  # fmt: skip
    assert "2 photographs joined" in said.output
    assert "joined at" in said.output
    document = json.loads(Path("out.json").read_text(encoding="utf-8"))
    assert document["format"] == "eke-trace-1"
    (piece,) = document["pieces"]
    reach = np.ptp(np.array(piece["outline"]), axis=0).max()
    # the lie of the paper is the first picture's, some degrees aslant
    assert reach == pytest.approx(np.ptp(PIECE[:, 0]), abs=8.0)
    assert piece["uncertainty_mm"] < 3.0
