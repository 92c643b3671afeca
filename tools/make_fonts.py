"""Make the fonts of ``src/eke/formats/fonts`` from two open-licensed families.

Run by hand when the set of characters changes (``python tools/make_fonts.py``); the results are committed, so
that nobody needs Node or the network to install the program. What it does, per face:

1. fetch the families as packages with ``npm`` into a temporary folder,
2. merge the Latin and Latin Extended-A parts and keep the characters of :data:`CHARACTERS`,
3. make tabular figures the ordinary ones (a PDF writer knows no font features),
4. draw what the families lack: eighths, arrows, a few signs of comparison and a tick,
5. give the face a name of its own, since it has been modified (SIL Open Font License 1.1, clause 3),
6. write a static TrueType file for paper and a WOFF2 of the same for screens.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import unicodedata
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from typing import Any

from fontTools.merge import Merger
from fontTools.merge.options import Options as MergeOptions
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.transformPen import TransformPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

OUT = Path(__file__).resolve().parent.parent / "src" / "eke" / "formats" / "fonts"

FAMILIES = {
    "serif": ("@fontsource/literata", "5.3.0", "literata", "Eke Serif"),
    "sans": ("@fontsource/atkinson-hyperlegible-next", "5.3.0", "atkinson-hyperlegible-next", "Eke Sans"),
}
FACES = (
    # file, family key, weight, style name
    ("eke-serif-regular", "serif", 400, "Regular"),
    ("eke-serif-semibold", "serif", 600, "SemiBold"),
    ("eke-sans-regular", "sans", 400, "Regular"),
    ("eke-sans-bold", "sans", 700, "Bold"),
)

CHARACTERS = (
    {*range(0x20, 0x7F), *range(0xA0, 0x17F)}  # Latin-1 and Latin Extended-A
    | {0x218, 0x219, 0x21A, 0x21B, 0x1E9E}  # comma-below letters of Romanian, capital sharp s
    | {0x2010, 0x2011, 0x2012, 0x2013, 0x2014, 0x2018, 0x2019, 0x201A, 0x201C, 0x201D, 0x201E}
    | {0x2020, 0x2022, 0x2026, 0x2032, 0x2033, 0x2039, 0x203A, 0x2044, 0x20AC, 0x2212}
    | {0x215B, 0x215C, 0x215D, 0x215E, 0x2190, 0x2191, 0x2192, 0x2193, 0x2194, 0x2195}
    | {0x2248, 0x2260, 0x2264, 0x2265, 0x2713}
)

SAME_AS = {0x2010: "-", 0x2011: "-", 0xAD: "-", 0x2012: "–"}
"""Signs that look like another: hyphens that break or not, and the dash as wide as a figure."""
SPACING_MARKS = {0x302: "ˆ", 0x306: "˘", 0x303: "˜", 0x327: "¸"}
"""Combining marks and the free-standing signs that carry the same shape."""

EIGHTHS = {0x215B: "1", 0x215C: "3", 0x215D: "5", 0x215E: "7"}
EPOCH = 3_786_912_000
"""1 January 2024 in seconds since 1904, so that two runs write the same bytes."""
Polygon = list[tuple[float, float]]


def fetch(folder: Path) -> Path:
    """Return the folder of the fetched packages."""
    npm = shutil.which("npm")
    if npm is None:
        sys.exit("npm is needed to make the fonts again. The committed ones work without it.")
    wanted = [f"{package}@{version}" for package, version, _, _ in FAMILIES.values()]
    subprocess.run(
        [npm, "install", "--silent", "--no-audit", "--no-fund", "--prefix", str(folder), *wanted], check=True
    )
    return folder / "node_modules"


def merged(parts: Iterable[Path]) -> TTFont:
    """Return one font from its Latin parts, with tabular figures as the ordinary ones."""
    with tempfile.TemporaryDirectory() as folder:
        plain = []
        for number, part in enumerate(parts):
            font = TTFont(part, recalcTimestamp=False)
            if "GSUB" in font:
                use_tabular_figures(font)
            for table in ("GSUB", "GDEF", "STAT", "vhea", "vmtx", "prep", "gasp"):
                if table in font:
                    del font[table]
            font.flavor = None
            name = Path(folder) / f"{number}.ttf"
            font.save(name)
            plain.append(str(name))
        return Merger(MergeOptions(drop_tables=[])).merge(plain)


def use_tabular_figures(font: TTFont) -> None:
    """Let the digits' characters name the glyphs that the feature ``tnum`` would put in their place."""
    table = font["GSUB"].table
    swap: dict[str, str] = {}
    for record in table.FeatureList.FeatureRecord:
        if record.FeatureTag != "tnum":
            continue
        for index in record.Feature.LookupListIndex:
            for sub in table.LookupList.Lookup[index].SubTable:
                swap.update(getattr(getattr(sub, "ExtSubTable", sub), "mapping", {}))
    for cmap in font["cmap"].tables:
        for digit in range(0x30, 0x3A):
            if digit in cmap.cmap:
                cmap.cmap[digit] = swap.get(cmap.cmap[digit], cmap.cmap[digit])


def stroke(a: tuple[float, float], b: tuple[float, float], width: float) -> Polygon:
    """Return the four corners of a straight stroke, clockwise as TrueType fills want it."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    length = (dx * dx + dy * dy) ** 0.5
    nx, ny = -dy / length * width / 2, dx / length * width / 2
    return [
        (a[0] + nx, a[1] + ny),
        (b[0] + nx, b[1] + ny),
        (b[0] - nx, b[1] - ny),
        (a[0] - nx, a[1] - ny),
    ]


def drawn_signs(weight: float, figure: float) -> dict[int, tuple[float, list[Polygon]]]:
    """Return advance and outlines of the signs that we draw, for stems ``weight`` wide."""
    mid, head = 330.0, 180.0
    left, right, width = 70.0, 830.0, 900.0

    def arrow(backward: bool, forward: bool) -> list[Polygon]:
        trim = weight * 0.7
        shapes = [stroke((left + trim * backward, mid), (right - trim * forward, mid), weight)]
        for wanted, tip, back in ((backward, left, 1.0), (forward, right, -1.0)):
            if wanted:
                shapes += [
                    stroke((tip, mid), (tip + back * head * 1.3, mid + head), weight),
                    stroke((tip, mid), (tip + back * head * 1.3, mid - head), weight),
                ]
        return shapes

    def turned(shapes: list[Polygon]) -> list[Polygon]:
        # a quarter turn anticlockwise about the middle, then to the left by half of the difference in width
        cx = (left + right) / 2
        return [[(cx - (y - mid) - 170, mid + (x - cx)) for x, y in shape] for shape in shapes]

    def wave(y: float) -> list[Polygon]:
        points = [(60.0, y - 40), (170.0, y + 45), (figure - 170.0, y - 45), (figure - 60.0, y + 40)]
        return [stroke(a, b, weight) for a, b in pairwise(points)]

    equals = [stroke((60, 430), (figure - 60, 430), weight), stroke((60, 230), (figure - 60, 230), weight)]
    less = [
        stroke((70, 400), (figure - 60, 590), weight),
        stroke((70, 400), (figure - 60, 210), weight),
        stroke((60, 80), (figure - 60, 80), weight),
    ]
    more = [[(figure - x, y) for x, y in reversed(shape)] for shape in less]
    prime = [stroke((70, 690), (50, 450), weight)]
    return {
        0x2032: (150, prime),
        0x2033: (290, prime + [[(x + 140, y) for x, y in shape] for shape in prime]),
        0x2190: (width, arrow(True, False)),
        0x2192: (width, arrow(False, True)),
        0x2194: (width, arrow(True, True)),
        0x2191: (width - 340, turned(arrow(False, True))),
        0x2193: (width - 340, turned(arrow(True, False))),
        0x2195: (width - 340, turned(arrow(True, True))),
        0x2248: (figure, wave(440) + wave(220)),
        0x2260: (figure, [*equals, stroke((170, 80), (figure - 170, 580), weight)]),
        0x2264: (figure, less),
        0x2265: (figure, more),
        0x2713: (
            720,
            [stroke((80, 320), (280, 80), weight * 1.2), stroke((260, 70), (640, 660), weight * 1.2)],
        ),
    }


def add_glyph(font: TTFont, code: int, glyph: Any, advance: float) -> None:
    """Give the character ``code`` a glyph of its own."""
    name = f"uni{code:04X}"
    if name not in font.getGlyphOrder():
        font.setGlyphOrder([*font.getGlyphOrder(), name])
    font["glyf"][name] = glyph
    glyph.recalcBounds(font["glyf"])
    font["hmtx"][name] = (round(advance), getattr(glyph, "xMin", 0))
    for cmap in font["cmap"].tables:
        if cmap.isUnicode():
            cmap.cmap[code] = name


def draw_missing(font: TTFont, weight: float) -> None:
    """Add eighths, arrows and signs, in the weight of the face."""
    glyphs, cmap = font.getGlyphSet(), font.getBestCmap()
    figure = glyphs[cmap[ord("0")]].width
    for code, twin in SAME_AS.items():
        if code not in cmap:
            for table in font["cmap"].tables:
                if table.isUnicode():
                    table.cmap[code] = cmap[ord(twin)]
    for code, (advance, shapes) in drawn_signs(weight, figure).items():
        if code in cmap:
            continue  # the family's own is better
        pen = TTGlyphPen(None)
        for shape in shapes:
            pen.moveTo(shape[0])
            for point in shape[1:]:
                pen.lineTo(point)
            pen.closePath()
        add_glyph(font, code, pen.glyph(), advance)
    height = 0.58
    cap = font["OS/2"].sCapHeight
    for code, digit in EIGHTHS.items():
        pen = TTGlyphPen(None)
        bar = glyphs["fraction" if "fraction" in glyphs else cmap[0x2044]]
        part = figure * height
        for name, dx, dy in ((cmap[ord(digit)], 0.0, cap * (1 - height)), (cmap[ord("8")], part + 120, 0.0)):
            recording = DecomposingRecordingPen(glyphs)
            glyphs[name].draw(recording)
            recording.replay(TransformPen(pen, (height, 0, 0, height, dx, dy)))
        recording = DecomposingRecordingPen(glyphs)
        bar.draw(recording)
        recording.replay(TransformPen(pen, (1, 0, 0, 1, part + 60 - bar.width / 2, 0)))
        add_glyph(font, code, pen.glyph(), 2 * part + 120)


def compose_letters(font: TTFont) -> None:
    """Add letters with an accent that the family lacks, from the letter and the free-standing accent."""
    glyphs, cmap = font.getGlyphSet(), dict(font.getBestCmap())
    rise = font["OS/2"].sCapHeight - font["OS/2"].sxHeight
    for code in sorted(CHARACTERS - set(cmap)):
        parts = unicodedata.decomposition(chr(code)).split()
        if len(parts) != 2 or parts[0].startswith("<"):
            continue
        letter, mark = int(parts[0], 16), SPACING_MARKS.get(int(parts[1], 16))
        if letter not in cmap or mark is None or ord(mark) not in cmap:
            continue
        pen = TTGlyphPen(None)
        base, sign = font["glyf"][cmap[letter]], font["glyf"][cmap[ord(mark)]]
        shift = (base.xMin + base.xMax - sign.xMin - sign.xMax) / 2
        tall = base.yMax > font["OS/2"].sxHeight * 1.15 and mark != "¸"
        for name, move in ((cmap[letter], (0.0, 0.0)), (cmap[ord(mark)], (shift, rise if tall else 0.0))):
            recording = DecomposingRecordingPen(glyphs)
            glyphs[name].draw(recording)
            recording.replay(TransformPen(pen, (1, 0, 0, 1, *move)))
        add_glyph(font, code, pen.glyph(), glyphs[cmap[letter]].width)


def name_face(font: TTFont, family: str, style: str, weight: int) -> None:
    """Give the face its own name; keep the copyright of its makers."""
    copyright_line = font["name"].getDebugName(0)
    font["name"].names = []
    full = f"{family} {style}"
    for number, text in {
        0: f"{copyright_line}. Modified: subset, tabular figures, signs added, renamed.",
        1: full if style == "SemiBold" else family,
        2: "Regular" if style == "SemiBold" else style,
        3: f"1.000;{full.replace(' ', '-')}",
        4: full,
        5: "Version 1.000",
        6: full.replace(" ", "-", 1).replace(" ", ""),
        13: "This Font Software is licensed under the SIL Open Font License, Version 1.1.",
        14: "https://openfontlicense.org",
    }.items():
        font["name"].setName(text, number, 3, 1, 0x409)
        if text.isascii():
            font["name"].setName(text, number, 1, 0, 0)
    font["OS/2"].usWeightClass = weight
    font["OS/2"].achVendID = "EKE "


def stem(font: TTFont) -> float:
    """Return the thickness of the face's minus sign, which the drawn signs follow."""
    glyph = font["glyf"][font.getBestCmap()[0x2212]]
    return float(glyph.yMax - glyph.yMin)


def main() -> None:
    """Make all faces again."""
    OUT.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        modules = fetch(Path(folder))
        for file, key, weight, style in FACES:
            package, _, stem_name, family = FAMILIES[key]
            files = modules / package / "files"
            font = merged(
                files / f"{stem_name}-{part}-{weight}-normal.woff2" for part in ("latin", "latin-ext")
            )
            draw_missing(font, stem(font))
            compose_letters(font)
            options = Options(layout_features=["kern", "mark", "mkmk"], hinting=False, name_IDs=["*"])
            options.notdef_outline = True
            options.recalc_timestamp = False
            subsetter = Subsetter(options)
            subsetter.populate(unicodes=CHARACTERS)
            subsetter.subset(font)
            missing = CHARACTERS - set(font.getBestCmap())
            name_face(font, family, style, weight)
            font["head"].created = font["head"].modified = EPOCH
            font.recalcTimestamp = False
            font.flavor = None
            font.save(OUT / f"{file}.ttf")
            font.flavor = "woff2"
            font.save(OUT / f"{file}.woff2")
            print(
                file, f"{(OUT / f'{file}.ttf').stat().st_size // 1024} kB", "lacks", sorted(map(hex, missing))
            )
        for key, (package, _, _, family) in FAMILIES.items():
            text = (modules / package / "LICENSE").read_text(encoding="utf-8")
            (OUT / f"OFL-{key}.txt").write_text(text, encoding="utf-8")
            print(family, "licence written")


if __name__ == "__main__":
    main()
