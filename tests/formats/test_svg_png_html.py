import re
from html.parser import HTMLParser
from io import BytesIO

import numpy as np
import pytest
from lxml import etree
from PIL import Image

from eke.errors import BadInput, NotFound
from eke.formats.faces import metrics
from eke.formats.html import journal_html
from eke.formats.pdf import pages_to_pdf
from eke.formats.png import page_to_png, pdf_to_png
from eke.formats.registry import format_for, page_formats
from eke.formats.svg import page_to_svg, picture_type
from eke.paper.journal import Journal, JournalCloth, JournalPicture
from eke.paper.lay_plan import lay_plan
from eke.paper.page import Area, Group, Page, Picture, Stroke, Words, rectangle, segment
from eke.paper.sizes import PAPERS
from eke.paper.styles import CUT, SEAM
from paper.golden import same_as_golden
from paper.samples import CURTAIN, LAID, pinafore

M = metrics()
SVG = "{http://www.w3.org/2000/svg}"
SMALL = Page(
    100,
    80,
    (
        Stroke((rectangle(10, 10, 30, 20),), CUT, closed=True),
        Stroke((segment(10, 40, 90, 40),), SEAM),
        Area((rectangle(50, 10, 20, 20), rectangle(55, 15, 10, 10)), "#B23A48"),
        Words("Front & “back” <1>", 10, 60, 6, "title"),
        Words("turned", 90, 10, 5, "measure", "end", 90),
        Group((Stroke((segment(0, 0, 10, 0),), CUT),), 50, 50, 90, clip=rectangle(40, 40, 20, 15)),
        Picture("missing", 75, 60, 20, 15),
    ),
    "Small page",
)


def numbers(path):
    return np.array([[float(v) for v in pair] for pair in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path)])


def test_golden_page():
    same_as_golden("small_page.svg", page_to_svg(SMALL, carry_fonts=False))


def test_one_unit_is_a_millimetre_and_y_is_turned_over():
    root = etree.fromstring(page_to_svg(SMALL).encode())
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("100mm", "80mm", "0 0 100 80")
    path = root.find(f"{SVG}path[@class='cut']")
    assert numbers(path.get("d")) == pytest.approx(np.array([[10, 70], [40, 70], [40, 50], [10, 50]]))


def test_groups_are_carried_out():
    root = etree.fromstring(page_to_svg(SMALL).encode())
    inner = root.find(f"{SVG}g/{SVG}path")
    assert numbers(inner.get("d")) == pytest.approx(np.array([[50, 30], [50, 20]]))
    name = root.find(f"{SVG}g").get("clip-path")[5:-1]
    (clip,) = (c for c in root.iter(f"{SVG}clipPath") if c.get("id") == name)
    assert numbers(clip[0].get("d"))[:, 1] == pytest.approx([40, 40, 25, 25])


def test_words_survive_as_they_are():
    root = etree.fromstring(page_to_svg(SMALL).encode())
    assert "Front & “back” <1>" in [t.text for t in root.iter(f"{SVG}text")]
    assert root.find(f"{SVG}title").text == "Small page"


def test_fonts_are_in_the_file_unless_not_wanted():
    assert page_to_svg(SMALL).count("@font-face") == 2  # the two faces that are used
    assert "@font-face" not in page_to_svg(SMALL, carry_fonts=False)
    assert "http" not in page_to_svg(SMALL).replace('xmlns="http://www.w3.org/2000/svg"', "")


def test_svg_and_pdf_agree_on_every_area():
    """The same shapes by two doors: areas from the path data of one, from the dots of the other."""
    page = Page(60, 60, (Area((rectangle(10, 10, 40, 30), rectangle(20, 15, 10, 10)), "#000000"),))
    ring, hole = re.findall(
        r"M[^Z]*Z", re.search(r' d="([^"]*)"', page_to_svg(page, carry_fonts=False)).group(1)
    )

    def area(data):
        x, y = numbers(data).T
        return abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1))) / 2

    dots = np.asarray(Image.open(BytesIO(page_to_png(page, dpi=254))).convert("L"))
    assert (dots < 128).sum() / 100 == pytest.approx(area(ring) - area(hole), rel=0.002)


def test_pictures_are_carried_with_their_type():
    out = BytesIO()
    Image.new("RGB", (4, 3)).save(out, "JPEG")
    page = Page(50, 50, (Picture("p", 5, 5, 40, 30, "fill", "A <cloth>"),))
    text = page_to_svg(page, pictures={"p": out.getvalue()})
    assert "data:image/jpeg;base64," in text
    assert "slice" in text
    assert "A &lt;cloth&gt;" in text
    assert picture_type(b"\x89PNG\r\n") == "image/png"
    assert picture_type(b"something") == "application/octet-stream"


@pytest.mark.parametrize("dpi", [72, 150])
def test_png_has_the_dots_it_says(dpi):
    picture = Image.open(BytesIO(page_to_png(Page(210, 297, SMALL.items), dpi=dpi)))
    assert picture.size == pytest.approx((210 / 25.4 * dpi, 297 / 25.4 * dpi), abs=1.1)
    assert picture.info["dpi"] == pytest.approx((dpi, dpi), abs=0.1)


def test_png_of_a_sheet_of_metres_keeps_its_shape():
    picture = Image.open(
        BytesIO(page_to_png(Page(8000, 1000, (Stroke((segment(100, 500, 7900, 500),), CUT),)), dpi=10))
    )
    assert picture.size == pytest.approx((8000 / 25.4 * 10, 1000 / 25.4 * 10), abs=2)


def test_png_refuses_no_dots():
    with pytest.raises(BadInput, match="150"):
        next(pdf_to_png(pages_to_pdf([SMALL], title="x"), dpi=0))


class Links(HTMLParser):
    def __init__(self):
        super().__init__()
        self.links, self.open, self.text = [], [], []

    def handle_starttag(self, tag, attrs):
        self.links += [v for k, v in attrs if k in ("src", "href", "xlink:href", "action", "data")]
        if tag not in ("meta", "img", "br", "hr", "link", "path", "image", "rect"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.links += [v for k, v in attrs if k in ("src", "href")]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


def test_the_journal_needs_nothing_else_and_shows_everything():
    out = BytesIO()
    Image.new("RGB", (4, 3)).save(out, "JPEG")
    journal = Journal(
        "Pinafore <script>alert(1)</script>",
        "From a curtain & a tablecloth.",
        (JournalPicture("p", "The “front”"), JournalPicture("gone", "Lost")),
        pinafore(),
        ("Took in 8 mm.",),
        (JournalCloth("Curtain", "", "half", "3.50 EUR"),),
        (("Cloth", "3.50 EUR"), ("In all", "3.50 EUR")),
        ("Offcut 1",),
        ("A note.",),
    )
    plans = [("Lay plan", page) for page in lay_plan(CURTAIN, LAID, PAPERS["a4"], M)[:1]] * 2
    text = journal_html(journal, pictures={"p": out.getvalue()}, drawings=plans)
    page = Links()
    page.feed(text)
    assert page.open == []
    assert page.links
    assert all(link.startswith("data:") for link in page.links)
    assert not re.search(r"url\((?!data:|#)", text)
    assert "<script" not in text
    for words in (
        "From a curtain & a tablecloth.",
        "Took in 8 mm.",
        "Side front",
        "3.50 EUR",
        "Offcut 1",
        "Lost",
        "half",
    ):
        assert any(words in part for part in page.text), words
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    assert journal_html(journal, pictures={"p": out.getvalue()}, drawings=plans) == text


def test_an_empty_journal_is_still_a_page():
    page = Links()
    page.feed(journal_html(Journal("Apron")))
    assert page.open == []
    assert "Apron" in page.text


@pytest.mark.parametrize(("name", "start"), [("a.PDF", b"%PDF"), ("b.svg", b"<svg"), ("c.png", b"\x89PNG")])
def test_each_format_writes_what_its_ending_says(name, start):
    assert format_for(name).write([SMALL], "Small", {}).startswith(start)


def test_unknown_endings_name_the_known_ones():
    with pytest.raises(NotFound, match=r"\.pdf, \.svg, \.png"):
        format_for("plan.doc")


def test_formats_of_one_page_refuse_two():
    for one in page_formats().values():
        if not one.many:
            with pytest.raises(BadInput, match="one page"):
                one.write([SMALL, SMALL], "Two", {})
