"""``eke compare``: two stages of a garment beside each other."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from eke.cli.frame import careful, refuse_taken, write_json, write_out
from eke.cli.rooms import json_option, room_of

if TYPE_CHECKING:
    from eke.actions.revisions import Stage, TwoStages


@click.command()
@click.argument("garment")
@click.argument("earlier", required=False, metavar="[STAGE]")
@click.argument("later", required=False, metavar="[STAGE]")
@click.option(
    "--picture",
    type=click.Path(path_type=Path),
    help="Draw the pieces of both over one another: a file that ends in .svg, .pdf or .png.",
)
@click.option("--force", is_flag=True, help="Replace the file that is there.")
@click.pass_context
@json_option
@careful
def compare(
    context: click.Context, garment: str, earlier: str | None, later: str | None, picture: Path | None,
    force: bool, as_json: bool,
) -> None:  # fmt: skip
    """Compare two stages of a garment: pieces, finished measures, and the changes in between.

    A STAGE is “now”, “mock-up 2” (what that mock-up was cut from), or the id of a step in eke history. Without them
    the newest mock-up is compared with now.

    Example: eke compare Pinafore “mock-up 1” now --picture between.svg
    """
    from eke.actions.overlay import draw_overlay
    from eke.actions.revisions import compare_stages
    from eke.formats.registry import format_for

    if picture is not None:
        refuse_taken(picture, force=force)
        format_for(picture.name)
    with room_of(context) as room:
        found = compare_stages(room, garment, earlier, later)
    if picture is not None:
        write_out(picture, draw_overlay(found, picture.suffix), force=force)
    if as_json:
        write_json(Path("-"), {"format": "eke-compared-1", **_rows(found)})
    else:
        _say(found)


def _rows(found: TwoStages) -> dict[str, Any]:
    return {
        "garment": found.garment,
        "earlier": _stage_row(found.earlier),
        "later": _stage_row(found.later),
        "pieces": [
            {"id": p.id, "name": p.name, "how": p.how, "apart_mm": p.apart_mm, "where": p.where, "at": p.at,
             "shift_mm": p.shift_mm,
             **{
                 key: None if piece is None else piece.outline.flatten()[:-1].tolist()
                 for key, piece in (("before", p.before), ("after", p.after))
             }}
            for p in found.pieces
        ],
        "measures": [
            {"name": m.name, "kind": m.kind, "before_mm": m.before and m.before.mm, "after_mm": m.after and m.after.mm,
             "difference_mm": m.difference_mm, "ease_before_mm": m.before and m.before.ease_mm,
             "ease_after_mm": m.after and m.after.ease_mm}
            for m in found.measures
        ],
        "steps": [
            {"id": s.id, "kind": s.kind, "sentence": s.sentence, "fate": s.fate, "was": s.was, "why": s.why, "at": s.at,
             "note": s.note}
            for s in found.steps
        ],
    }  # fmt: skip


def _stage_row(stage: Stage) -> dict[str, Any]:
    return {"id": stage.id, "words": stage.words, "mock_ups": list(stage.mock_ups), "now": stage.now}


def _say(found: TwoStages) -> None:
    from eke.actions.revisions import FATES, MEASURED_MM

    click.echo(f"Earlier: {found.earlier.words}")
    click.echo(f"Later:   {found.later.words}")
    click.echo("Pieces")
    for one in found.pieces:
        if one.how == "changed":
            far = (
                f" by up to {one.apart_mm:.1f} mm, at {one.where}"
                if one.apart_mm
                else " in its marks, notches or darts"
            )
            click.echo(f"  {one.name} differs{far}")
        elif one.how != "same":
            click.echo(f"  {one.name} is {'new' if one.how == 'added' else 'gone'}")
    same = sum(one.how == "same" for one in found.pieces)
    click.echo(f"  {same} {'piece is' if same == 1 else 'pieces are'} the same")
    click.echo("Measures, mm")
    alike = 0
    for m in found.measures:
        if m.difference_mm is not None and abs(m.difference_mm) < MEASURED_MM:
            alike += 1
            continue
        before, after = (f"{side.mm:8.1f}" if side else f"{'–':>8}" for side in (m.before, m.after))
        by = f"{m.difference_mm:+8.1f}" if m.difference_mm is not None else f"{'':8}"
        click.echo(f"  {before} → {after} {by}  {m.name}")
    click.echo(f"  {alike} {'measure is' if alike == 1 else 'measures are'} the same")
    click.echo("Changes")
    for step in found.steps:
        fate = FATES[step.fate]
        was = f" (was: {step.was})" if step.was else ""
        why = f": {step.why}" if step.why else ""
        click.echo(f"  {step.sentence}{was}{f' – {fate}' if fate else ''}{why}")
    if not found.steps:
        click.echo("  none")


COMMANDS = (compare,)
