"""Cloth, purchases and the ledger on the command line."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from eke.cli.frame import careful, write_json
from eke.cli.rooms import json_option, room_of, say_done
from eke.cli.tracing import reference_option, traced_picture
from eke.errors import BadInput


def numbers_from(text: str, what: str) -> list[float]:
    """Read numbers parted by commas."""
    try:
        return [float(part) for part in text.split(",")]
    except ValueError:
        raise BadInput(f"“{text}” is not {what}: numbers parted by commas, in mm.") from None


def money_from(text: str) -> Any:
    """Read an amount with its currency, as in ``4.50 EUR``."""
    from eke.units import Money

    parts = text.split()
    if len(parts) != 2:
        raise BadInput(f"“{text}” is not an amount with its currency. Write it as “4.50 EUR”.")
    return Money.parse(parts[0], parts[1].upper())


@click.group()
def cloth() -> None:
    """Cloths on the shelf. They belong to the workroom and are kept for projects."""


_said = [
    click.option(
        "--grain", "grain_deg", type=float, help="Direction of the warp, degrees from the x axis; 90 is up."
    ),
    click.option(
        "--nap",
        type=click.Choice(["none", "one-way"]),
        help="One-way: nap, pile or a print with a direction.",
    ),
    click.option("--same-face", is_flag=True, help="Both faces are alike: pieces may be turned over."),
    click.option("--weight", "weight_gsm", type=float, help="Grams per square metre."),
    click.option("--shrink", metavar="WARP,WEFT", help="Shrinkage still to come, per cent along and across."),
    click.option("--washed", is_flag=True, help="It has been washed and pressed."),
    click.option("--price", metavar="“4.50 EUR”", help="What it was worth when it came."),
    click.option("--origin", help="Where it came from."),
]


def _with_words(command: Any) -> Any:
    for option in reversed(_said):
        command = option(command)
    return command


def _words(options: dict[str, Any]) -> dict[str, Any]:
    words = {
        k: options[k] for k in ("grain_deg", "nap", "weight_gsm", "origin") if options.get(k) is not None
    }
    words |= {k: True for k in ("same_face", "washed") if options.get(k)}
    if options.get("shrink"):
        warp, *weft = numbers_from(options["shrink"], "a shrinkage")
        words["shrink_warp_percent"], words["shrink_weft_percent"] = warp, weft[0] if weft else warp
    if options.get("price"):
        words["price"] = money_from(options["price"])
    return words


@cloth.command("add")
@click.argument("name")
@click.option(
    "--shape",
    default="rectangle",
    show_default=True,
    help="rectangle, round, half-round, oval, l-shape or four-sided.",
)
@click.option(
    "--size", required=True, metavar="MM,MM…", help="The measures of the shape, mm, parted by commas."
)
@_with_words
@click.pass_context
@json_option
@careful
def add(context: click.Context, /, name: str, shape: str, size: str, as_json: bool, **options: Any) -> None:
    """Put a cloth on the shelf from typed measures.

    Example: eke cloth add “Blue curtain” --size 1400,2200 --grain 90 --price “3 EUR” --origin “flea market”
    """
    from eke.actions.cloths import add_cloth, typed_outline

    words = _words({"grain_deg": 90.0, **{k: v for k, v in options.items() if v is not None}})
    outline = typed_outline(shape, numbers_from(size, "a size"))
    with room_of(context) as room:
        say_done(add_cloth(room, name, outline, **words), as_json)


@cloth.command("photograph")
@click.argument("name")
@click.argument("photo", type=click.Path(path_type=Path))
@reference_option
@click.option(
    "--touch",
    "touches",
    multiple=True,
    metavar="X:Y:+|-",
    help="A place on the cloth (+) or the floor (-), pixels.",
)
@_with_words
@click.pass_context
@json_option
@careful
def photograph(
    context: click.Context, /, name: str, photo: Path, references: tuple[str, ...], touches: tuple[str, ...],
    as_json: bool, **options: Any,
) -> None:  # fmt: skip
    """Put a cloth on the shelf from a photograph: outline, holes, flaws and threads.

    Example: eke cloth photograph “Curtain” curtain.jpg --reference sheet --touch 2000:1500:+ --grain 91
    """
    from eke.actions.found import take_cloth
    from eke.actions.photographs import SHELF

    words = _words(options)
    price = words.pop("price", None)
    with room_of(context) as room:
        picture = traced_picture(room, SHELF, photo, references=references, cloth=True, touches=touches)
        done = take_cloth(
            room, picture.id, (picture.found or {})["cloths"][0]["name"], name, said=words, price=price
        )
        say_done(done, as_json)


def _about(name: str, action: str, doc: str) -> click.Command:
    @click.command(name, help=doc)
    @click.argument("cloth")
    @click.pass_context
    @json_option
    @careful
    def command(context: click.Context, cloth: str, as_json: bool) -> None:
        from eke.actions import cloths

        with room_of(context) as room:
            say_done(getattr(cloths, action)(room, cloth), as_json)

    return command


def _for_project(name: str, action: str, doc: str) -> click.Command:
    @click.command(name, help=doc)
    @click.argument("cloth")
    @click.option("--project", required=True, help="The project's name or id.")
    @click.pass_context
    @json_option
    @careful
    def command(context: click.Context, cloth: str, project: str, as_json: bool) -> None:
        from eke.actions import cloths

        with room_of(context) as room:
            say_done(getattr(cloths, action)(room, cloth, project), as_json)

    return command


cloth.add_command(
    _about(
        "wash", "wash_cloth", "Note that a cloth has been washed.\n\nExample: eke cloth wash “Blue curtain”"
    )
)
cloth.add_command(
    _about(
        "discard", "discard_cloth", "Take a cloth off the shelf uncut.\n\nExample: eke cloth discard Scrap"
    )
)
cloth.add_command(
    _for_project(
        "reserve",
        "reserve_cloth",
        "Keep a cloth for a project.\n\nExample: eke cloth reserve “Blue curtain” --project Summer",
    )
)
cloth.add_command(
    _for_project(
        "release",
        "release_cloth",
        "Let a cloth go from a project.\n\nExample: eke cloth release Curtain --project Summer",
    )
)


@cloth.command("describe")
@click.argument("cloth_name", metavar="CLOTH")
@_with_words
@click.pass_context
@json_option
@careful
def describe(context: click.Context, /, cloth_name: str, as_json: bool, **options: Any) -> None:
    """Say something of a cloth anew: grain, nap, weight, shrinkage, origin.

    Example: eke cloth describe “Blue curtain” --grain 91 --nap one-way
    """
    from eke.actions.cloths import describe_cloth

    words = _words(options)
    if not words:
        raise BadInput("Say at least one thing of the cloth, such as --grain 90.")
    with room_of(context) as room:
        say_done(describe_cloth(room, cloth_name, **words), as_json)


@cloth.command("flaw")
@click.argument("cloth_name", metavar="CLOTH")
@click.argument("corners", metavar="X,Y…", nargs=-1, required=True)
@click.option(
    "--kind", default="stain", show_default=True, help="What it is, in a word: stain, thin, faded …"
)
@click.pass_context
@json_option
@careful
def flaw(context: click.Context, cloth_name: str, corners: tuple[str, ...], kind: str, as_json: bool) -> None:
    """Mark a place as flawed, by its corners in mm in the cloth's frame; pieces that show keep off it.

    Example: eke cloth flaw “Blue curtain” 100,200 160,200 160,260 100,260 --kind stain
    """
    from eke.actions.cloths import mark_flaw

    points = [numbers_from(corner, "a place") for corner in corners]
    if any(len(point) != 2 for point in points):
        raise BadInput("Each corner of a flaw is X,Y in mm.")
    with room_of(context) as room:
        say_done(mark_flaw(room, cloth_name, points, kind), as_json)


@click.group()
def notion() -> None:
    """Notions on the shelf: buttons, thread, tape."""


@notion.command("add")
@click.argument("name")
@click.argument("amount")
@click.option("--unit", default="pieces", show_default=True, help="What it is counted in: pieces, m, g …")
@click.option("--price", metavar="“3 EUR”", help="What all of it was worth.")
@click.pass_context
@json_option
@careful
def notion_add(
    context: click.Context, name: str, amount: str, unit: str, price: str | None, as_json: bool
) -> None:
    """Put a notion on the shelf.

    Example: eke notion add buttons 6 --price “3 EUR”
    """
    from eke.actions.money import add_notion

    with room_of(context) as room:
        say_done(add_notion(room, name, amount, unit, money_from(price) if price else None), as_json)


@notion.command("use")
@click.argument("name")
@click.argument("amount")
@click.option("--garment", required=True, help="The garment's name or id.")
@click.pass_context
@json_option
@careful
def notion_use(context: click.Context, name: str, amount: str, garment: str, as_json: bool) -> None:
    """Note that a garment used some of a notion.

    Example: eke notion use buttons 2 --garment Pinafore
    """
    from eke.actions.money import use_notion

    with room_of(context) as room:
        say_done(use_notion(room, name, amount, garment), as_json)


@cloth.command("advice")
@click.argument("cloth_name", metavar="CLOTH")
@click.pass_context
@json_option
@careful
def advice(context: click.Context, cloth_name: str, as_json: bool) -> None:
    """Say what to do with a found cloth before it comes near the others.

    Example: eke cloth advice “Blue curtain”
    """
    from eke.actions.cloths import advice_of

    with room_of(context) as room:
        found = advice_of(room, cloth_name)
    if as_json:
        write_json(Path("-"), {"format": "eke-advice-1", "advice": [asdict(one) for one in found]})
        return
    for one in found:
        click.echo(f"- {one.sentence}")


@click.command()
@click.argument("what")
@click.argument("paid", metavar="“AMOUNT CURRENCY”")
@click.option(
    "--project", "projects", multiple=True, metavar="NAME[=WEIGHT]", help="Shared among projects by weight."
)
@click.option(
    "--cloth",
    "cloths",
    multiple=True,
    metavar="NAME[=WEIGHT]",
    help="The cloths that it paid for, by weight.",
)
@click.option("--rate", metavar="CUR=RATE", help="How much of another currency one unit is, as in EUR=0.087.")
@click.option("--on", help="The day, as in 2026-05-02.")
@click.pass_context
@json_option
@careful
def buy(
    context: click.Context, what: str, paid: str, projects: tuple[str, ...], cloths: tuple[str, ...],
    rate: str | None, on: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Record a purchase.

    Example: eke buy “two curtains” “6 EUR” --project Summer --cloth “Blue curtain=2” --cloth “Burnt curtain=1”
    """
    from eke.actions.money import buy as record

    shares = [{n: w or "1" for n, _, w in (s.partition("=") for s in group)} for group in (projects, cloths)]
    typed = None
    if rate:
        into, sign, value = rate.partition("=")
        if not sign:
            raise BadInput(f"“{rate}” is no rate. Write it as EUR=0.087.")
        typed = (into.upper(), value)
    with room_of(context) as room:
        done = record(room, what, money_from(paid), projects=shares[0], cloths=shares[1], rate=typed, on=on)
        say_done(done, as_json)


@click.command()
@click.option("--project", required=True, help="The project's name or id.")
@click.option("--currency", help="In another currency than the budget's.")
@click.pass_context
@json_option
@careful
def ledger(context: click.Context, project: str, currency: str | None, as_json: bool) -> None:
    """Say what was spent, what each garment used, and what is left.

    Example: eke ledger --project Summer
    """
    from eke.actions.money import ledger_report

    with room_of(context) as room:
        found = ledger_report(room, project, currency)
    if as_json:
        write_json(Path("-"), {"format": "eke-ledger-1", **asdict(found)})
        return
    account = found.account
    click.echo(
        f"{found.project}: spent {account.spent}"
        + (f" of {account.budget}, {account.left} left" if account.budget else "")
    )
    for one in found.garments:
        click.echo(f"  {one.name} used {one.used}")
    click.echo(f"  still on the shelf: {found.left_on_shelf}")
    for purchase in account.without_rate:
        click.echo(f"  not counted, no rate given: {purchase}")


COMMANDS = (cloth, notion, buy, ledger)
