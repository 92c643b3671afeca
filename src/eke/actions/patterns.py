"""The pattern of a garment: pieces from tracings, edges and seams said, seams walked, fixes applied."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from eke.actions.naming import MAKES, filled
from eke.actions.placed import placed_findings
from eke.actions.room import Done, GarmentState, Room, new_id
from eke.derive import with_derived
from eke.errors import BadInput, NotFound
from eke.findings import Finding, Fix
from eke.pattern.model import Edge, Pattern, Piece, RunPart
from eke.pattern.proposals import Proposal, propose_seams
from eke.pattern.walking import Walk, walk
from eke.store import Transaction


def change(
    room: Room,
    garment: str,
    kind: str,
    params: Mapping[str, Any],
    note: str = "",
    *,
    expected: int | None = None,
) -> Done:
    """Apply one change of any kind to a garment: the one door that the app and the command line use.

    Ids of what it makes, and the names that its sentence speaks in, are put in where they are not given. The
    answer's id is that of what was made (a piece, a seam, a notch, a derived piece), or else of the change.

    Parameters
    ----------
    expected
        The revision that the maker was looking at; without it the newest is meant.

    Raises
    ------
    ChangedMeanwhile
        When the garment has another revision than the expected one.
    EkeError
        When the change cannot be applied; nothing is changed.
    """
    with room.store.write() as tx:
        state = room.garment(garment, tx)
        room.expect(state.stored, expected)
        told = filled(state.pattern, state.stored.log.head, kind, params)
        done = room.change_garment_in(tx, state.id, kind, told, note=note)
        if kind in ("recipe.add", "recipe.set", "recipe.by_hand"):
            _require_made(room, tx, state, {str(told.get("id") or told.get("recipe_id")), done.id})
    made = told.get(MAKES[kind]) if kind in MAKES else None
    return Done(str(made) if made else done.id, done.sentence, done.revision, done.unsettled)


def _require_made(room: Room, tx: Transaction, before: GarmentState, about: set[str]) -> None:
    """Refuse a recipe, or an adjustment of one by hand, that yields nothing when it is said.

    A recipe whose pieces change later is kept with a finding; one that cannot be made when it is said is a
    mistake, such as a facing of -4 mm.
    """
    known = {f.sentence for f in before.derivation.findings}
    for finding in room.garment(before.id, tx).derivation.findings:
        if about & set(finding.where) and finding.code == "target-gone" and finding.sentence not in known:
            raise BadInput(f"{finding.sentence} Nothing was changed.", where=finding.where)


def say_seam(room: Room, garment: str, name: str, a: Sequence[str], b: Sequence[str], **more: Any) -> Done:
    """Say that two runs are sewn together; a leading "-" walks an edge backwards ("-side_back.side").

    ``more``: ``ease_mm``, ``kind``, ``b_mirrored``.
    """
    params = {"id": new_id(), "name": name, "a": [_part(x) for x in a], "b": [_part(x) for x in b], **more}
    return room.change_garment(garment, "seam.say", params)


def _part(word: str) -> dict[str, Any]:
    return {"edge": word.removeprefix("-"), "reverse": word.startswith("-")}


def proposed_seams(room: Room, garment: str) -> tuple[Proposal, ...]:
    """Return the seams that lengths, notches and names suggest, the surest first; the maker confirms."""
    return propose_seams(room.garment(garment).pattern)


def walk_seam(room: Room, garment: str, seam: str) -> Walk:
    """Walk one seam of a garment, by its id: both sides laid straight, side by side.

    A seam that comes with a derived piece (a facing to its neck) is walked like the others.
    """
    state = room.garment(garment)
    return walk(with_derived(state.pattern, state.derivation), seam)


def accept_seam(room: Room, garment: str, proposal: Proposal, name: str = "") -> Done:
    """Confirm a proposed seam."""
    params = {
        "id": new_id(),
        "name": name,
        "a": [{"edge": p.edge, "reverse": p.reverse} for p in proposal.a],
        "b": [{"edge": p.edge, "reverse": p.reverse} for p in proposal.b],
        "ease_mm": proposal.ease_mm,
        "b_mirrored": proposal.b_mirrored,
    }
    return room.change_garment(garment, "seam.say", params)


def findings(room: Room, garment: str) -> tuple[Finding, ...]:
    """Walk all seams and check all pieces: what was found, gravest first, with set-aside steps and recipes."""
    return tuple(one.finding for one in placed_findings(room.garment(garment)))


def apply_fix(room: Room, garment: str, fix: Fix) -> Done:
    """Apply a remedy that a finding offers."""
    return room.change_garment(garment, fix.kind, fix.params, note=fix.sentence)


def find_piece(pattern: Pattern, name_or_id: str) -> Piece:
    """Return the piece of that id, or of that name where only one has it."""
    if name_or_id in pattern.pieces or name_or_id in pattern.aliases:
        return pattern.piece(name_or_id)
    named = [p for p in pattern.pieces.values() if p.name.casefold() == name_or_id.casefold()]
    if len(named) == 1:
        return named[0]
    names = ", ".join(f"“{p.name}”" for p in pattern.pieces.values())
    raise NotFound(f"There is no single piece “{name_or_id}”. There are: {names or 'none yet'}.")


def find_edge(pattern: Pattern, text: str) -> Edge:
    """Return an edge by its id, by "piece.edge" in names, or by "piece#3", counted from its first corner."""
    for piece in pattern.pieces.values():
        for edge in piece.edges:
            if edge.id == text:
                return edge
    if "#" in text:
        name, _, number = text.rpartition("#")
        piece = find_piece(pattern, name)
        if number.isdigit() and 1 <= int(number) <= len(piece.edges):
            return piece.edges[int(number) - 1]
        raise NotFound(f"“{piece.name}” has {len(piece.edges)} edges; there is no number {number}.")
    if "." in text:
        name, _, edge_name = text.rpartition(".")
        piece = find_piece(pattern, name)
        named = [e for e in piece.edges if e.name.casefold() == edge_name.casefold()]
        if len(named) == 1:
            return named[0]
        names = ", ".join(f"“{e.name or f'#{i}'}”" for i, e in enumerate(piece.edges, start=1))
        raise NotFound(f"“{piece.name}” has no single edge “{edge_name}”. It has: {names}.")
    raise BadInput(f"“{text}” names no edge. Write piece.edge, or piece#3 for its third edge.")


def find_edges(pattern: Pattern, text: str) -> tuple[Edge, ...]:
    """Return all edges that "piece.edge" names: a dart or a corner may have made several of one."""
    if "." in text and all(e.id != text for p in pattern.pieces.values() for e in p.edges):
        name, _, edge_name = text.rpartition(".")
        named = tuple(e for e in find_piece(pattern, name).edges if e.name.casefold() == edge_name.casefold())
        if named:
            return named
    return (find_edge(pattern, text),)


def proposal_words(pattern: Pattern, proposal: Proposal) -> tuple[str, str]:
    """Return the two runs of a proposal in words: "front.panel", "front.armhole + side front.armhole"."""

    def run(parts: Sequence[RunPart]) -> str:
        words = []
        for part in parts:
            piece, edge = pattern.edge(part.edge)
            words.append(f"{piece.name}.{edge.name or f'#{piece.edges.index(edge) + 1}'}")
        return " + ".join(words)

    return run(proposal.a), run(proposal.b)
