"""``eke trace`` and ``eke reference-sheet``: from a photograph to millimetres."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from eke.cli.frame import careful, end_progress, progress_line, read_json, refuse_taken, write_json, write_out
from eke.errors import BadInput

if TYPE_CHECKING:  # commands load what they need when they run
    from eke.actions.photographs import Photograph
    from eke.actions.room import Room
    from eke.capture.by_hand import Stroke


def touch_from(text: str) -> tuple[float, float, Literal["+", "-"]]:
    """Read a touch, ``X:Y:+`` or ``X:Y:-``, in pixels."""
    parts = text.split(":")
    try:
        x, y = float(parts[0]), float(parts[1])
    except (ValueError, IndexError):
        parts = []
    if len(parts) != 3 or parts[2] not in "+-" or not parts[2]:
        raise BadInput(f"“{text}” is no touch. Write X:Y:+ for a place inside, X:Y:- for one outside.")
    return x, y, "+" if parts[2] == "+" else "-"


def numbered_touch_from(text: str) -> tuple[int, tuple[float, float, Literal["+", "-"]]]:
    """Read a touch that may begin with the number of its picture, ``N:X:Y:+``; without, it is in the first."""
    number, rest = text.split(":", 1) if text.count(":") == 3 else ("1", text)
    if not number.isdecimal():
        raise BadInput(
            f"“{text}” is no touch. Write N:X:Y:+ for a place inside in picture N, N:X:Y:- for one outside."
        )
    return int(number), touch_from(rest)


def strokes_from(drawn: tuple[str, ...], rubbed: tuple[str, ...]) -> tuple[Stroke, ...]:
    """Read strokes, ``X:Y;X:Y;…`` each, in pixels: those that are drawn, and then those that are rubbed out."""
    from eke.capture.by_hand import stroke_of

    made = []
    for how, texts in (("draw", drawn), ("rub", rubbed)):
        for text in texts:
            try:
                points = [[float(v) for v in one.split(":")] for one in text.split(";")]
            except ValueError:
                points = []
            if not points or any(len(p) != 2 or not all(map(math.isfinite, p)) for p in points):
                raise BadInput(f"“{text}” is no line. Write X:Y;X:Y from point to point, or X:Y for a dot.")
            made.append(stroke_of(how, points))
    return tuple(made)


def specs_from(texts: tuple[str, ...]) -> tuple[Any, ...]:
    """Parse the references; the file that a sheet's geometry is read from is opened here, at the door."""
    from eke.capture.references import parse_reference

    def load(name: str) -> Mapping[str, Any]:
        entry = read_json(Path(name))
        if not isinstance(entry, dict):
            raise BadInput(f"{name} does not hold the geometry of a sheet.")
        return entry

    return tuple(parse_reference(text, load_geometry=load) for text in texts or ("auto",))


def traced_picture(
    room: Room,
    subject: str,
    path: Path,
    *,
    references: tuple[str, ...],
    touches: tuple[str, ...],
    drawn: tuple[str, ...] = (),
    rubbed: tuple[str, ...] = (),
    square_paper: bool = False,
    cloth: bool = False,
) -> Photograph:
    """Take a photograph into the workroom, say what lies in it, and trace it."""
    from eke.actions import found, photographs
    from eke.formats.images import photo_bytes
    from eke.jobs import Report

    specs, places = specs_from(references), [touch_from(t) for t in touches]
    strokes = strokes_from(drawn, rubbed)
    data = photo_bytes(path)
    taken = photographs.take_in_photograph(room, subject, data, path.name, cloth=cloth)
    photographs.say_of_photograph(
        room,
        taken.id,
        references=[photographs.said_of(one) for one in specs],
        square_paper=square_paper,
        cloth=cloth,
        touches=[{"x_px": x, "y_px": y, "side": side} for x, y, side in places],
        strokes=[{"how": s.how, "points_px": s.points.tolist()} for s in strokes],
    )
    told = Report(lambda kind, value: progress_line(value[1]) if kind == "progress" else None)
    try:
        return found.trace_now(room, taken.id, told)
    finally:
        end_progress()


reference_option = click.option(
    "--reference",
    "references",
    multiple=True,
    metavar="KIND[,key=value…]",
    help="What gives the picture its scale; may be repeated. auto (the default) · sheet[,geometry=FILE]"
    "[,check_line_mm=L] · a4 · letter · card (each with corners=X:Y;X:Y;X:Y;X:Y) · "
    "points,from=X:Y,to=X:Y,distance_mm=D[,height_mm=H] · scan[,dpi=N] (a flatbed scan; a PDF page is one).",
)


draw_option = click.option(
    "--draw",
    "drawn",
    multiple=True,
    metavar="X:Y[;X:Y…]",
    help="A stretch of line that is missing, pixels: it begins and ends on the lines that are there. One place: a dot.",
)
rub_option = click.option(
    "--rub",
    "rubbed",
    multiple=True,
    metavar="X:Y[;X:Y…]",
    help="What is no line, rubbed out along these places, pixels.",
)


@click.command()
@click.argument("photos", nargs=-1, required=True, metavar="PHOTO…", type=click.Path(path_type=Path))
@reference_option
@click.option("--square-paper", is_flag=True, help="The paper's edges are cut straight and square: use them.")
@click.option("--cloth", is_flag=True, help="Look for cloth instead of traced pieces.")
@click.option(
    "--one-paper",
    is_flag=True,
    help="The photographs show parts of one paper (or cloth), about a third of each also in the next: join them.",
)
@click.option(
    "--touch",
    "touches",
    multiple=True,
    metavar="[N:]X:Y:+|-",
    help="A place inside (+) or outside (-), pixels; with --one-paper in picture N.",
)
@draw_option
@rub_option
@click.option(
    "--json", "out", type=click.Path(path_type=Path), help="Write what was found, in mm (eke-trace-1)."
)
@click.option(
    "--force",
    is_flag=True,
    help="Replace OUT where something else is there; an older trace is replaced anyway.",
)
@careful
def trace(
    photos: tuple[Path, ...],
    references: tuple[str, ...],
    square_paper: bool,
    cloth: bool,
    one_paper: bool,
    touches: tuple[str, ...],
    drawn: tuple[str, ...],
    rubbed: tuple[str, ...],
    out: Path | None,
    force: bool,
) -> None:
    """Find the outlines in photographs of a tracing, true to scale.

    Lay a plain A4 or Letter sheet, Eke's own sheet (eke reference-sheet) or a bank card beside the tracing and
    photograph both from above. Pixels are those of the picture turned upright, counted from the centre of the
    top-left one.

    A piece too long for one photograph: take several, each with a sheet of its own in it, that overlap by a third,
    and say --one-paper.

    Example: eke trace front.jpg --reference a4 --square-paper --json front.json
    """
    from eke.actions.tracing import trace_one_paper, trace_photographs

    if out is not None:
        refuse_taken(out, force=force, answer="eke-trace-1")
    specs, strokes = specs_from(references), strokes_from(drawn, rubbed)
    if strokes and (one_paper or cloth or len(photos) > 1):
        raise BadInput("Lines are drawn and rubbed out on one photograph of a tracing. Trace it by itself.")
    if one_paper:
        document, report = trace_one_paper(
            photos,
            references=specs,
            square_paper=square_paper,
            cloth=cloth,
            touches=tuple(numbered_touch_from(t) for t in touches),
            listener=lambda sentence, share: progress_line(sentence),
        )
    else:
        document, report = trace_photographs(
            photos,
            references=specs,
            square_paper=square_paper,
            cloth=cloth,
            touches=tuple(touch_from(t) for t in touches),
            strokes=strokes,
            listener=lambda sentence, share: progress_line(sentence),
        )
    end_progress()
    if out is not None:
        write_json(out, document, force=force)
    if out is None or str(out) != "-":
        click.echo(report)


@click.command("reference-sheet")
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper size."
)
@click.option(
    "--number",
    type=click.IntRange(0, 99),
    default=0,
    show_default=True,
    help="Sheets with different numbers can lie in one picture.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("eke-sheet.pdf"),
    show_default=True,
    help="The PDF to write.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the sheet's geometry in mm (eke-sheet-1).")
@click.option("--force", is_flag=True, help="Replace the file that is there.")
@careful
def reference_sheet(paper: str, number: int, out: Path, as_json: bool, force: bool) -> None:
    """Write Eke's own reference sheet as a PDF, to print at 100 % and lay beside a tracing.

    Example: eke reference-sheet --paper a4 --out sheet.pdf
    """
    from eke.actions.papers import reference_sheet_pdf

    data, document = reference_sheet_pdf(paper, number)
    write_out(out, data, force=force)
    if as_json:
        write_json(Path("-"), document)
    else:
        click.echo(
            f"{out} is written. Print it at 100 % (no “fit to page”), measure the line marked on it, and say what you "
            "read with --reference sheet,check_line_mm=…"
        )


COMMANDS = (trace, reference_sheet)
