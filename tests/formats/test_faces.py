import hashlib
from importlib import resources
from io import BytesIO

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageFont
from reportlab.pdfbase import pdfmetrics

from eke.formats.faces import FACES, face_bytes, metrics, readable, runs, web_face_bytes
from eke.formats.pdf import _register_faces

M = metrics()
NEEDED = "½¼¾⅛⅜⅝⅞←→↑↓↔×°€£–—‘’“”„…−≤≥≈′″✓·•²³ÄÖÜäöüßéèêëçñåøæœŁłŐőŰűĄąĘęŠšŽžČčĞğİıŞşȚțŊŋ"


@pytest.mark.parametrize("role", FACES)
def test_widths_agree_with_two_other_readers(role):
    text = "Side front 1174 ⅛ in → 60 mm"
    ours = M.width_mm(text, role, 100.0)
    theirs = ImageFont.truetype(
        BytesIO(face_bytes(role)), 1000, layout_engine=ImageFont.Layout.BASIC
    ).getlength(text, features=None)
    # Pillow's basic layout kerns; the sum of single letters does not
    single = sum(
        ImageFont.truetype(BytesIO(face_bytes(role)), 1000, layout_engine=ImageFont.Layout.BASIC).getlength(c)
        for c in text
    )
    assert ours == pytest.approx(single / 10, rel=0.002)
    assert ours == pytest.approx(theirs / 10, rel=0.03)
    _register_faces()
    assert ours == pytest.approx(pdfmetrics.stringWidth(text, FACES[role].file, 100.0), rel=0.002)


@pytest.mark.parametrize("role", FACES)
def test_figures_have_one_width(role):
    assert len({round(M.width_mm(str(d), role, 10.0), 6) for d in range(10)}) == 1


@pytest.mark.parametrize("role", FACES)
def test_every_sign_we_write_can_be_shown(role):
    assert readable(NEEDED) == NEEDED
    assert "".join(stretch for _, stretch in runs(NEEDED, role)) == NEEDED


@given(st.text(max_size=80))
def test_any_text_becomes_something_that_can_be_shown(text):
    shown = readable(text)
    assert readable(shown) == shown
    assert M.width_mm(text, "measure", 5.0) >= 0.0
    assert "".join(stretch for _, stretch in runs(text, "strong")) == shown


def test_what_no_face_has_is_replaced_by_the_nearest():
    assert readable("ế 布 ①\tﬁ\u200b") == "e ? 1 fi"
    assert readable("e\u0301") == "é"


@pytest.mark.parametrize("role", FACES)
def test_faces_are_static_truetype_under_names_of_their_own(role):
    font = TTFont(BytesIO(face_bytes(role)))
    assert "glyf" in font
    assert "fvar" not in font
    assert font["OS/2"].fsType == 0  # may be embedded
    names = {n.nameID: n.toUnicode() for n in font["name"].names}
    assert names[4].startswith("Eke ")
    assert "SIL Open Font License" in names[13]
    assert "Project Authors" in names[0]
    web = TTFont(BytesIO(web_face_bytes(role)))
    assert web.getBestCmap() == font.getBestCmap()


def test_licences_lie_beside_the_fonts():
    folder = resources.files("eke.formats") / "fonts"
    for name in ("OFL-serif.txt", "OFL-sans.txt"):
        text = (folder / name).read_text(encoding="utf-8")
        assert "SIL OPEN FONT LICENSE Version 1.1" in text
        assert "Reserved Font Name" in text  # the licence's own words; no name is reserved in its first lines
        assert "with Reserved Font Name" not in text.split("SIL OPEN FONT LICENSE", 1)[0]
    files = sorted(p.name for p in folder.iterdir() if p.name.endswith((".ttf", ".woff2")))
    assert len(files) == 2 * len(FACES)
    assert len({hashlib.sha256((folder / f).read_bytes()).hexdigest() for f in files}) == len(files)
