"""Which stints there are for a cutting list, and applying one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from shapely.geometry import Polygon

from eke.cloth import Cloth
from eke.cutting import CutPiece, total_area_mm2
from eke.cutting.piece import MAX_TILT_DEG
from eke.errors import BadInput, EkeError
from eke.pattern.model import Edge
from eke.stint import shapes
from eke.stint.stint import (
    FACING_STEP_MM,
    HARM,
    JOIN_ALLOWANCE_MM,
    LEAST_FACING_MM,
    LEAST_FRAYING_MM,
    LEAST_HEM_MM,
    LEAST_PLAIN_MM,
    SHORTER_MM,
    Stint,
    StintKind,
    area_words,
    names_of,
)


def propose(
    pieces: Sequence[CutPiece],
    cloths: Sequence[Cloth] = (),
    shortfall_mm2: float = 0.0,
    *,
    frays: bool = False,
) -> tuple[Stint, ...]:
    """Return the ways to save cloth on a cutting list, the least harmful first.

    Within one kind those that save most come first. A stint is offered only where it changes something.

    Parameters
    ----------
    pieces
        What is to be cut from these cloths.
    cloths
        The cloths at hand: nothing is laid crosswise on cloth with a direction.
    shortfall_mm2
        Area that did not fit; a stint that saves so much alone is marked ``enough``.
    frays
        The cloth frays, so that allowances stay wider.
    """
    found: list[Stint] = []
    one_way = any(cloth.nap == "one-way" for cloth in cloths)
    by_piece = _together(pieces)
    for group in by_piece:
        for kind, params, words in _ways(group, one_way=one_way, frays=frays):
            try:
                after = _changed(kind, group, params)
            except EkeError:
                continue  # this piece has no room for it
            saved = total_area_mm2(group) - total_area_mm2(after)
            if after == group or (saved <= 0.0 and kind in _SAVING):
                continue
            found.append(
                Stint(
                    id=f"{kind.replace(' ', '-')}:{group[0].id}",
                    kind=kind,
                    harm=HARM[kind],
                    pieces=tuple(piece.id for piece in group),
                    saved_mm2=saved,
                    sentence=words(saved),
                    enough=0.0 < shortfall_mm2 <= saved,
                    params=params,
                )
            )
    found += _all_round(pieces, shortfall_mm2, frays=frays)
    found += _shorter(pieces, shortfall_mm2)
    return tuple(sorted(found, key=lambda stint: (stint.harm, -stint.saved_mm2, stint.id)))


def apply(stint: Stint, pieces: Sequence[CutPiece]) -> tuple[CutPiece, ...]:
    """Return the cutting list with one stint applied; the pieces that it does not name stay as they are.

    Pieces that are cut from another cloth, or left out, are no longer on it: see :func:`taken_off`.

    Raises
    ------
    BadInput
        When a piece that the stint names is not on the list any more.
    """
    listed = {piece.id for piece in pieces}
    for id_ in stint.pieces:
        if id_ not in listed:
            raise BadInput(
                f"“{id_}” is not on the cutting list any more, so this saving does not apply. Ask again."
            )
    named = [piece for piece in pieces if piece.id in stint.pieces]
    changed = _changed(stint.kind, named, dict(stint.params))
    out: list[CutPiece] = []
    done = False
    for piece in pieces:
        if piece.id not in stint.pieces:
            out.append(piece)
        elif not done:
            out += changed
            done = True
    return tuple(out)


def taken_off(stint: Stint, pieces: Sequence[CutPiece]) -> tuple[CutPiece, ...]:
    """The pieces that a stint takes off the list: to be cut from another cloth, or not at all."""
    if stint.kind not in ("other cloth", "second cloth", "leave out"):
        return ()
    return tuple(piece for piece in pieces if piece.id in stint.pieces)


def least(stints: Iterable[Stint], shortfall_mm2: float) -> tuple[Stint, ...]:
    """The least harmful stints that together save so much, by area alone; all that save if they do not suffice.

    No piece is touched twice: after one stint the areas of the next on the same piece are no longer known.
    """
    chosen: list[Stint] = []
    touched: set[str] = set()
    saved = 0.0
    for stint in sorted(stints, key=lambda one: (one.harm, -one.saved_mm2, one.id)):
        if saved >= shortfall_mm2:
            break
        if stint.saved_mm2 > 0 and not touched & set(stint.pieces):
            chosen.append(stint)
            touched |= set(stint.pieces)
            saved += stint.saved_mm2
    return tuple(chosen)


_SAVING: frozenset[StintKind] = frozenset(
    {
        "other cloth",
        "narrower allowances",
        "narrower facing",
        "narrower hem",
        "shorter",
        "second cloth",
        "leave out",
    }
)
Words = Callable[[float], str]
Way = tuple[StintKind, dict[str, Any], Words]


def _together(pieces: Sequence[CutPiece]) -> list[list[CutPiece]]:
    """Cut pieces of one pattern piece in one role belong together: a pair is not narrowed on one side."""
    groups: dict[tuple[str, str], list[CutPiece]] = {}
    for piece in pieces:
        groups.setdefault((piece.piece, piece.role), []).append(piece)
    return list(groups.values())


def _ways(group: list[CutPiece], *, one_way: bool, frays: bool) -> Iterator[Way]:
    """Ways to save on one group, each with its parameters and words."""
    name, first = names_of(group), group[0]
    hidden = first.hidden
    if hidden:
        yield (
            "other cloth",
            {},
            lambda saved: (
                f"Cut {name} from another cloth: nobody sees it in wear. It frees {area_words(saved)}."
            ),
        )
        if first.grain == "along" and not one_way:
            yield (
                "cross grain",
                {},
                lambda saved: (
                    f"Let {name} lie on the cross grain: it is hidden, and the cloth has no direction. It gives a little more."
                ),
            )
    least_mm = LEAST_FRAYING_MM if frays else LEAST_PLAIN_MM
    yield (
        "narrower allowances",
        {"least_mm": least_mm},
        lambda saved: (
            f"Cut the seams of {name} with {least_mm:g} mm instead of more: saves {area_words(saved)}, and leaves nothing to let "
            "out."
        ),
    )
    inner = _free_edge(group)
    if inner is not None and hidden:
        yield (
            "narrower facing",
            {"edge": inner.id, "by_mm": FACING_STEP_MM},
            lambda saved: (
                f"Make {name} {FACING_STEP_MM:g} mm narrower: saves {area_words(saved)}; tack it down well, so that it does not roll out."
            ),
        )
    if first.source is not None and first.source.piece.fold is not None and first.source.whole:
        yield (
            "centre seam",
            {"allowance_mm": least_mm},
            lambda saved: (
                f"Cut {name} in two halves with a seam at the centre: costs {area_words(-saved)}, but two halves find room where "
                "the whole does not."
            ),
        )
    if any(edge.kind == "hem" for edge in _edges(first)):
        yield (
            "narrower hem",
            {"least_mm": LEAST_HEM_MM},
            lambda saved: (
                f"Take a hem of {LEAST_HEM_MM:g} mm on {name}, or face it with another cloth: saves {area_words(saved)}."
            ),
        )
    across, at_mm = _join(first)
    kind: StintKind = "piece hidden" if hidden else "piece visible"
    params = {"across": across, "at_mm": at_mm, "allowance_mm": JOIN_ALLOWANCE_MM}
    where = "across" if across else "along the grain"
    yield (
        kind,
        params,
        lambda saved: (
            f"Join {name} from two parts with a seam {where}, same grain: costs {area_words(-saved)}, but the parts find room "
            f"where the whole does not.{'' if hidden else ' The seam will be seen.'}"
        ),
    )
    tilt = MAX_TILT_DEG[hidden]
    if first.tilt_deg < tilt and first.grain != "any":
        yield "tilt", {"tilt_deg": tilt}, lambda saved: (
            f"Let {name} lie up to {tilt:g}° off the grain: {'it is hidden' if hidden else 'hardly seen, but it may hang a hair askew'}."
        )  # fmt: skip
    if not hidden:
        yield (
            "second cloth",
            {},
            lambda saved: f"Cut {name} from a second cloth, as if it were meant: frees {area_words(saved)}.",
        )
    if first.priority > 1:
        yield "leave out", {}, lambda saved: f"Leave out {name}: frees {area_words(saved)}."


def _all_round(pieces: Sequence[CutPiece], shortfall_mm2: float, *, frays: bool) -> list[Stint]:
    """Narrower seams on the whole garment in one step, where more than one piece can be narrowed."""
    least_mm = LEAST_FRAYING_MM if frays else LEAST_PLAIN_MM
    changed = [(p, shapes.narrowed(p, ("seam",), least_mm)) for p in pieces if p.source is not None]
    touched = [before for before, after in changed if after != before]
    if len({piece.piece for piece in touched}) < 2:
        return []
    saved = sum((b.area_mm2 - a.area_mm2) * b.copies for b, a in changed)
    return [
        Stint(
            id="narrower-allowances:all",
            kind="narrower allowances",
            harm=HARM["narrower allowances"],
            pieces=tuple(piece.id for piece in touched),
            saved_mm2=saved,
            sentence=f"Cut all seams with {least_mm:g} mm: saves {area_words(saved)}, and leaves nothing to let out.",
            enough=0.0 < shortfall_mm2 <= saved,
            params={"least_mm": least_mm},
        )
    ]


def _shorter(pieces: Sequence[CutPiece], shortfall_mm2: float) -> list[Stint]:
    """The whole garment a little shorter: every piece with a hem at its lower end, lining and all."""
    hemmed = {piece.id: str(edge.id) for piece in pieces if (edge := _low_hem(piece)) is not None}
    named = [piece for piece in pieces if piece.id in hemmed]
    params = {"edges": hemmed, "by_mm": SHORTER_MM}
    try:
        after = _changed("shorter", named, params)
    except EkeError:
        return []
    saved = total_area_mm2(named) - total_area_mm2(after)
    if saved <= 0.0:
        return []
    return [
        Stint(
            id="shorter:all",
            kind="shorter",
            harm=HARM["shorter"],
            pieces=tuple(hemmed),
            saved_mm2=saved,
            sentence=f"Make the garment {SHORTER_MM:g} mm shorter ({names_of(named)}): saves {area_words(saved)}.",
            enough=0.0 < shortfall_mm2 <= saved,
            params=params,
        )
    ]


def _low_hem(piece: CutPiece) -> Edge | None:
    """The hem at the lower end of a piece; a pocket's hem is at its top and stays."""
    edges = _edges(piece)
    if not edges:
        return None
    low = min(edge.path.bounds[1] for edge in edges)
    return next(
        (e for e in edges if e.kind == "hem" and min(e.path.start[1], e.path.end[1]) < low + SHORTER_MM), None
    )


def _changed(kind: StintKind, group: Sequence[CutPiece], params: dict[str, Any]) -> list[CutPiece]:
    if kind in ("other cloth", "second cloth", "leave out"):
        return []
    return [made for piece in group for made in _one(kind, piece, params)]


def _one(kind: StintKind, piece: CutPiece, params: dict[str, Any]) -> tuple[CutPiece, ...]:
    if kind == "narrower allowances":
        return (shapes.narrowed(piece, ("seam",), float(params["least_mm"])),)
    if kind == "narrower hem":
        return (shapes.narrowed(piece, ("hem",), float(params["least_mm"])),)
    if kind == "narrower facing":
        by_mm = float(params["by_mm"])
        if _facing_width_mm(piece, str(params["edge"])) - by_mm < LEAST_FACING_MM:
            raise BadInput(f"“{piece.name}” would be narrower than {LEAST_FACING_MM:g} mm.")
        return (shapes.with_edge_in(piece, params["edge"], by_mm),)
    if kind == "shorter":
        return (shapes.with_edge_in(piece, params["edges"][piece.id], float(params["by_mm"])),)
    if kind == "cross grain":
        return (replace(piece, grain="cross"),)
    if kind == "tilt":
        return (replace(piece, tilt_deg=float(params["tilt_deg"])),)
    if kind == "centre seam":
        return shapes.opened(piece, float(params["allowance_mm"]))
    at_mm = float(params["at_mm"])
    if piece.mirrored and not params["across"]:
        at_mm = -at_mm  # the same place on the mirror image
    return shapes.pieced(
        piece, at_mm, across=bool(params["across"]), allowance_mm=float(params["allowance_mm"])
    )


def _edges(piece: CutPiece) -> tuple[Edge, ...]:
    return piece.source.piece.edges if piece.source is not None else ()


def _free_edge(group: Sequence[CutPiece]) -> Edge | None:
    """The inner edge of a facing: the edge that its recipe drew, sewn to nothing."""
    return next(
        (edge for edge in _edges(group[0]) if edge.id.endswith("/new") and edge.kind == "opening"), None
    )


def _facing_width_mm(piece: CutPiece, edge_id: str) -> float:
    """About how wide a facing is: its net area by the length of its inner edge."""
    if piece.source is None:
        return 0.0
    drawn = piece.source.piece
    return Polygon(drawn.outline.flatten()).area / drawn.edge(edge_id).path.length_mm


def _join(piece: CutPiece) -> tuple[bool, float]:
    """Where a piece is joined: in the middle of its longer side, hidden or not, near the lower end when seen."""
    x0, y0, x1, y1 = piece.polygon.bounds
    across = (y1 - y0) >= (x1 - x0)
    low, high = (y0, y1) if across else (x0, x1)
    return across, low + (high - low) * (0.5 if piece.hidden else 0.3)
