"""Pieces, edges, seams, findings, fit changes and derived pieces on the command line."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from eke.cli.fitted import traced
from eke.cli.frame import careful, write_json
from eke.cli.rooms import facts_from, json_option, room_of, say_done
from eke.cli.tracing import draw_option, reference_option, rub_option, traced_picture
from eke.cli.usual import usual
from eke.errors import BadInput

EDGE_HELP = "An edge is written piece.edge, or piece#3 for the piece's third edge."


@click.group()
def piece() -> None:
    """Pattern pieces: taken from tracings, with their edges."""


@piece.command("take")
@click.argument("garment")
@click.argument("photo", type=click.Path(path_type=Path))
@click.option(
    "--name",
    "names",
    multiple=True,
    required=True,
    help="Names of the pieces from left to right, as eke trace lists them; “-” skips one.",
)
@reference_option
@click.option("--square-paper", is_flag=True, help="The paper's edges are cut straight and square: use them.")
@click.option(
    "--touch", "touches", multiple=True, metavar="X:Y:+|-", help="A place inside (+) or outside (-), pixels."
)
@draw_option
@rub_option
@click.option(
    "--traced",
    type=click.Choice(["net", "finished", "cut"]),
    default="net",
    show_default=True,
    help="What the line was: seam line, finished edge, or cut edge.",
)
@click.option(
    "--with-allowance",
    "allowance_mm",
    type=float,
    default=0.0,
    help="For a cut edge: the allowance to take off, mm.",
)
@click.option(
    "--traced-by",
    type=click.Choice(["pen", "pins", "cloth"]),
    help="With what it was traced; what the hand adds goes into what the outline is worth.",
)
@click.option("--worn", is_flag=True, help="The garment is much worn.")
@click.option(
    "--cut", "count", type=click.IntRange(1), default=1, show_default=True, help="How often each is cut."
)
@click.option("--pairs", is_flag=True, help="Cut mirrored pairs.")
@click.pass_context
@json_option
@careful
def take(
    context: click.Context, garment: str, photo: Path, names: tuple[str, ...], references: tuple[str, ...],
    square_paper: bool, touches: tuple[str, ...], drawn: tuple[str, ...], rubbed: tuple[str, ...], traced: str,
    allowance_mm: float, traced_by: str | None, worn: bool, count: int, pairs: bool, as_json: bool,
) -> None:  # fmt: skip
    """Take pieces from a photograph of a tracing into a garment's pattern.

    Example: eke piece take Pinafore sides.jpg --name “side front” --name “side back” --reference a4
    """
    from eke.actions.found import take_piece

    with room_of(context) as room:
        picture = traced_picture(
            room, garment, photo, references=references, square_paper=square_paper, touches=touches, drawn=drawn,
            rubbed=rubbed,
        )  # fmt: skip
        found: Any = picture.found
        if len(names) > len(found["pieces"]):
            raise BadInput(
                f"{len(names)} names were given, and {len(found['pieces'])} outlines were found in {photo.name}."
            )
        done = [
            take_piece(
                room, picture.id, row["name"], name, traced_as=traced, traced_allowance_mm=allowance_mm,
                traced_by=traced_by, worn=worn, count=count, pairs=pairs,
            )
            for name, row in zip(names, found["pieces"], strict=False)
            if name != "-"
        ]  # fmt: skip
    if as_json:
        steps = [asdict(one) for one in done]
        write_json(Path("-"), {"format": "eke-taken-1", "pieces": steps, "warnings": found["warnings"]})
        return
    for one in done:
        say_done(one, as_json)
    for warning in found["warnings"]:
        click.echo(f"  note: {warning}", err=True)


@piece.command("show")
@click.argument("garment")
@click.pass_context
@json_option
@careful
def show(context: click.Context, garment: str, as_json: bool) -> None:
    """List the pieces with their edges, and the derived pieces.

    Example: eke piece show Pinafore
    """
    with room_of(context) as room:
        state = room.garment(garment)
    pieces = [*state.pattern.pieces.values(), *(d.piece for d in state.derivation.pieces.values())]
    if as_json:
        rows = [
            {"id": p.id, "name": p.name, "fold": p.fold, "outline": p.outline.flatten()[:-1].tolist(),
             "edges": [{"id": e.id, "name": e.name, "kind": e.kind, "length_mm": e.path.length_mm} for e in p.edges]}
            for p in pieces
        ]  # fmt: skip
        write_json(Path("-"), {"format": "eke-pieces-1", "garment": state.name, "pieces": rows})
        return
    for one in pieces:
        x0, y0, x1, y1 = one.outline.bounds
        click.echo(f"{one.name}  {x1 - x0:.0f} × {y1 - y0:.0f} mm{', half on the fold' if one.fold else ''}")
        for number, edge in enumerate(one.edges, start=1):
            seams = ", ".join(s.name or "seam" for s in state.pattern.seams_of(edge.id))
            click.echo(
                f"   #{number} {edge.name or '–':16} {edge.kind:8} {edge.path.length_mm:7.1f} mm  {seams}"
            )


@click.command("true")
@click.argument("garment")
@click.argument("step", metavar="STEP")
@click.argument("values", nargs=-1, metavar="NAME=VALUE…")
@click.option("--note", default="", help="Why.")
@click.pass_context
@json_option
@careful
def true_(
    context: click.Context, garment: str, step: str, values: tuple[str, ...], note: str, as_json: bool
) -> None:
    """Apply a trueing step to a pattern; edges and pieces may be written by name.

    STEP is edge.set, true.straighten, true.fair, true.square, true.length, true.on_line, true.halves, true.share,
    true.join, grain.set, notch.pair, mark.set and others; one that is not known lists them all. A place is x,y; a row of
    places is [[x,y],[x,y]].

    Example: eke true Pinafore edge.set edge=front#2 name=side kind=seam
    """
    from eke.actions.fitting import find_seam
    from eke.actions.naming_held import HELD_KINDS
    from eke.actions.patterns import change, find_edge, find_piece

    params = facts_from(values)
    with room_of(context) as room:
        pattern = room.garment(garment).pattern
        of_seams = step.startswith("seam.")  # seam.first names two seams, edge.merge two edges
        for key in ("edge", "first", "second", "first_leg", "second_leg"):
            if isinstance(params.get(key), str) and not of_seams:
                edge = find_edge(pattern, params[key])
                params[key] = edge.id
                if step not in HELD_KINDS:  # those speak of a corner, or say how far the halves lay apart
                    params.setdefault("called", edge.name)
        to = params.get("to")
        if isinstance(to, dict) and isinstance(to.get("edge"), str):
            params["to"] = {**to, "edge": find_edge(pattern, to["edge"]).id}
        if isinstance(params.get("piece"), str):
            found = find_piece(pattern, params["piece"])
            params["piece"] = found.id
            params.setdefault("called", found.name)
        for key in ("seam", "first", "second") if of_seams else ("seam",):
            if isinstance(params.get(key), str):
                params[key] = find_seam(pattern, params[key])
        say_done(change(room, garment, step, params, note), as_json)


@click.group()
def seam() -> None:
    """Seams: proposed, said, walked."""


def _runs(pattern: Any, text: str) -> list[str]:
    from eke.actions.patterns import find_edge

    words = []
    for part in text.split(","):
        word = part.strip()
        edge = find_edge(pattern, word.removesuffix("-"))
        words.append(f"{'-' if word.endswith('-') else ''}{edge.id}")
    return words


@seam.command("say")
@click.argument("garment")
@click.argument("name")
@click.argument("run_a")
@click.argument("run_b")
@click.option("--ease", "ease_mm", type=float, default=0.0, help="How much longer run A is on purpose, mm.")
@click.pass_context
@json_option
@careful
def say(
    context: click.Context, garment: str, name: str, run_a: str, run_b: str, ease_mm: float, as_json: bool
) -> None:
    """Say that two runs of edges are sewn together, walked from a common start.

    A run is edges parted by commas; “-” behind an edge walks it backwards.

    Example: eke seam say Pinafore side “side front.side” “side back.side-”
    """
    from eke.actions.patterns import say_seam

    with room_of(context) as room:
        pattern = room.garment(garment).pattern
        say_done(
            say_seam(room, garment, name, _runs(pattern, run_a), _runs(pattern, run_b), ease_mm=ease_mm),
            as_json,
        )


@seam.command("propose")
@click.argument("garment")
@click.option("--accept", is_flag=True, help="Take all that are surer than 80 %.")
@click.pass_context
@json_option
@careful
def propose(context: click.Context, garment: str, accept: bool, as_json: bool) -> None:
    """Propose seams from lengths, notches and names; you confirm them.

    Example: eke seam propose Pinafore
    """
    from eke.actions.patterns import accept_seam, proposal_words, proposed_seams

    with room_of(context) as room:
        pattern = room.garment(garment).pattern
        found = proposed_seams(room, garment)
        rows: list[dict[str, Any]] = []
        for one in found:
            one_side, other = proposal_words(pattern, one)
            why = "; ".join(one.reasons)
            rows.append({"a": one_side, "b": other, "confidence": one.confidence, "why": why})
            if accept and one.confidence >= 0.8:
                accept_seam(room, garment, one)
        if as_json:
            write_json(Path("-"), {"format": "eke-proposals-1", "seams": rows})
            return
        for row in rows:
            click.echo(f"{100 * row['confidence']:3.0f} %  {row['a']}  with  {row['b']}: {row['why']}")


@seam.command("walk")
@click.argument("garment")
@click.option("--fix", type=int, help="Apply the first remedy of that finding.")
@click.pass_context
@json_option
@careful
def walk(context: click.Context, garment: str, fix: int | None, as_json: bool) -> None:
    """Walk all seams and say what was found, with the remedies.

    Example: eke seam walk Pinafore
    """
    from eke.actions.patterns import apply_fix, findings

    with room_of(context) as room:
        found = findings(room, garment)
        if fix is not None:
            if not 1 <= fix <= len(found) or not found[fix - 1].fixes:
                raise BadInput(f"There is no finding {fix} with a remedy; there are {len(found)} findings.")
            say_done(apply_fix(room, garment, found[fix - 1].fixes[0]), as_json)
            return
    if as_json:
        write_json(Path("-"), {"format": "eke-findings-1", "findings": [asdict(f) for f in found]})
        return
    for number, one in enumerate(found, start=1):
        click.echo(f"{number:2} {one.severity:5} {one.sentence}  [{one.code}]")
        for remedy in one.fixes:
            click.echo(f"         - {remedy.sentence}")
    if not found:
        click.echo("All seams match.")


@click.command()
@click.argument("garment")
@click.pass_context
@json_option
@careful
def measure(context: click.Context, garment: str, as_json: bool) -> None:
    """Say what the sewn garment measures, beside the body and the tape.

    Example: eke measure Pinafore
    """
    from eke.actions.measures import measures

    with room_of(context) as room:
        found = measures(room, garment)
    if as_json:
        rows = [{**asdict(m), "ease_mm": m.ease_mm} for m in found.finished]
        differing = [asdict(f) for f in found.differing]
        write_json(Path("-"), {"format": "eke-measures-1", "measures": rows, "differing": differing})
        return
    for one in found.finished:
        ease = (
            "" if one.ease_mm is None else f"   {one.body} {one.body_mm:.0f} mm, ease {one.ease_mm:+.0f} mm"
        )
        click.echo(f"{one.mm:8.1f} mm  {one.name}{ease}")
    for finding in found.differing:
        click.echo(f"  {finding.severity:5} {finding.sentence}")


@click.group()
def fit() -> None:
    """Fit changes from a mock-up, carried to the pattern."""


fit.add_command(usual)
fit.add_command(traced)


@fit.command("take-in")
@click.argument("garment")
@click.argument("seam_name", metavar="SEAM")
@click.option(
    "--at",
    "knots",
    multiple=True,
    required=True,
    metavar="MM=AMOUNT",
    help="Amount taken in (below 0: let out) so many mm along the seam; repeat.",
)
@click.option("--share", type=float, default=0.5, show_default=True, help="Share of the first side, 0 to 1.")
@click.option("--reason", default="", help="What the mock-up showed.")
@click.pass_context
@json_option
@careful
def take_in(
    context: click.Context,
    garment: str,
    seam_name: str,
    knots: tuple[str, ...],
    share: float,
    reason: str,
    as_json: bool,
) -> None:
    """Take in or let out a seam by a taper.

    Example: eke fit take-in Pinafore side --at 0=0 --at 145=12 --at 300=0 --reason “stands off at the waist”
    """
    from eke.actions.fitting import take_in as apply

    pairs = []
    for knot in knots:
        at, sign, amount = knot.partition("=")
        try:
            pairs.append((float(at), float(amount)))
        except ValueError:
            sign = ""
        if not sign:
            raise BadInput(
                f"“{knot}” is no place with an amount. Write 145=12: 12 mm, 145 mm along the seam."
            )
    with room_of(context) as room:
        say_done(apply(room, garment, seam_name, pairs, share_a=share, reason=reason), as_json)


@fit.command("add-dart")
@click.argument("garment")
@click.argument("edge")
@click.option(
    "--at", "at_mm", type=float, required=True, help="Middle of the dart, mm from the start of the edge."
)
@click.option(
    "--intake", "intake_mm", type=float, required=True, help="What the dart takes up at the edge, mm."
)
@click.option("--apex", required=True, metavar="X,Y", help="Where it points, mm in the piece's frame.")
@click.option("--reason", default="", help="What the mock-up showed.")
@click.pass_context
@json_option
@careful
def add_dart(
    context: click.Context,
    garment: str,
    edge: str,
    at_mm: float,
    intake_mm: float,
    apex: str,
    reason: str,
    as_json: bool,
) -> None:
    """Take a dart out of an edge.

    Example: eke fit add-dart Pinafore back.neck --at 40 --intake 8 --apex 40,430
    """
    from eke.actions.fitting import add_dart as apply
    from eke.actions.patterns import find_edge
    from eke.cli.cloths import numbers_from
    from eke.pattern.model import EdgePlace

    point = numbers_from(apex, "a place")
    if len(point) != 2:
        raise BadInput(f"“{apex}” is no place: write X,Y.")
    with room_of(context) as room:
        found = find_edge(room.garment(garment).pattern, edge)
        place = EdgePlace(found.id, mm=at_mm)
        say_done(apply(room, garment, place, intake_mm, (point[0], point[1]), reason=reason), as_json)


@fit.command("move-dart")
@click.argument("garment")
@click.argument("edge")
@click.option("--dart", help="The dart's id; not needed where there is only one.")
@click.option(
    "--at", "at_mm", type=float, required=True, help="Where it opens, mm from the start of the edge."
)
@click.option("--reason", default="", help="Why.")
@click.pass_context
@json_option
@careful
def move_dart(
    context: click.Context,
    garment: str,
    edge: str,
    dart: str | None,
    at_mm: float,
    reason: str,
    as_json: bool,
) -> None:
    """Close a dart and open it at another edge of its piece.

    Example: eke fit move-dart Pinafore back.strap --at 12
    """
    from eke.actions.fitting import move_dart as apply
    from eke.actions.patterns import find_edge
    from eke.pattern.model import EdgePlace

    with room_of(context) as room:
        pattern = room.garment(garment).pattern
        darts = [d.id for p in pattern.pieces.values() for d in p.darts]
        if dart is None and len(darts) != 1:
            raise BadInput(
                f"There are {len(darts)} darts. Say which with --dart: {', '.join(darts) or 'none yet'}."
            )
        place = EdgePlace(find_edge(pattern, edge).id, mm=at_mm)
        say_done(apply(room, garment, dart or darts[0], place, reason=reason), as_json)


@click.command()
@click.argument("garment")
@click.argument("kind", type=click.Choice(["facing", "lining", "layer", "strip"]))
@click.argument("name")
@click.option("--edge", "edges", multiple=True, help=f"Edges to face or bind; may be repeated. {EDGE_HELP}")
@click.option("--piece", "pieces", multiple=True, help="Pieces that it is made from; may be repeated.")
@click.option(
    "--set",
    "values",
    multiple=True,
    metavar="NAME=VALUE",
    help="Parameters: width_mm, to, shorter_mm, role, finished_mm, length_mm …",
)
@click.pass_context
@json_option
@careful
def derive(
    context: click.Context, garment: str, kind: str, name: str, edges: tuple[str, ...], pieces: tuple[str, ...],
    values: tuple[str, ...], as_json: bool,
) -> None:  # fmt: skip
    """Add a piece that follows others: a facing, a lining, a layer or a strip.

    Example: eke derive Pinafore facing “neck facing” --edge front.neck --edge back.neck --set width_mm=55
    """
    from eke.actions.recipes import add_recipe

    with room_of(context) as room:
        say_done(
            add_recipe(room, garment, kind, name, edges=edges, pieces=pieces, params=facts_from(values)),
            as_json,
        )


COMMANDS = (piece, true_, seam, measure, fit, derive)
