"""Cross-check: lengths taped on the garment, each at a point of measure, against the pattern.

Words
-----
point of measure
    Where a length was taped. There are two ways to take one: *along* a line of the garment (a seam, an edge, a
    chain of edges), or *round* it at a level (a balance line, the hem, the underarm); a round may be taped as *half*,
    on the garment laid flat.

A point of measure is understood from its name, or said with the length (:class:`~eke.pattern.model.TapedAt`):

=============================== ================================================
name                            taken as
=============================== ================================================
side seam, side                 along the seam or the edges of that name
side of front, front.side       along that edge of that piece only
hem, hem of sleeve              round the hem (of the group with that piece)
half width at waist, half waist half of the round at the balance line "waist"
waist, waist round              the round at the balance line "waist"
half width at underarm          half of the level round where side and armhole meet
=============================== ================================================

Flat girth is twice the half width (common practice of point-of-measure tables).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from eke.errors import NotFound
from eke.findings import Finding, Fix
from eke.pattern.corners import called
from eke.pattern.finished import FinishedMeasure, Share, finished_measures, round_at, times_cut
from eke.pattern.gathers import sewn_length_mm
from eke.pattern.measure import width_at_mm
from eke.pattern.model import Edge, Pattern, Piece, TapedAt
from eke.pattern.tolerances import Tolerances, graded

SHORT_MM: Final = 250.0
FINE_SHORT_MM: Final = 2.0
FINE_SHARE: Final = 0.005
"""Garment and copy agree within 2 mm below 250 mm and within 0.5 % above (common practice)."""
NOTE_TIMES: Final = 2.0
"""To twice that it is a note; above, the maker is asked."""


def understood(pattern: Pattern, name: str) -> TapedAt | None:
    """Return how a point of measure is taken by its name alone; nothing where no line of the pattern is so called."""
    words = " ".join(name.casefold().replace("-", " ").split())
    half = words.startswith("half ")
    plain = words.removeprefix("half ")
    if half or "width" in plain or " round" in f" {plain}":
        for lead in ("width at the ", "width at ", "round at the ", "round at ", "width of ", "round of "):
            plain = plain.removeprefix(lead)
        for tail in (" width", " round", " girth"):
            plain = plain.removesuffix(tail)
        return _level(pattern, plain, half)
    along = _along(pattern, words)
    if plain.startswith("hem"):
        return _level(pattern, plain, half) or along
    return along or _level(pattern, plain.removesuffix(" girth"), half)


def _level(pattern: Pattern, name: str, half: bool) -> TapedAt | None:
    head, _, of = name.partition(" of ")
    pieces = (
        tuple(str(p.id) for p in pattern.pieces.values() if p.name.casefold() == of.strip()) if of else ()
    )
    if of and not pieces:
        return None
    said = TapedAt(at=head.strip(), half=half, pieces=pieces)
    return said if _taken_round(pattern, said) is not None else None


def _along(pattern: Pattern, words: str) -> TapedAt | None:
    for seam in pattern.seams.values():
        if seam.name and seam.name.casefold().removesuffix(" seam") == words.removesuffix(" seam"):
            return TapedAt(seam=seam.id)
    bare = words.removesuffix(" seam")
    found = []
    for piece in pattern.pieces.values():
        for edge in piece.edges:
            whose = " ".join(piece.name.casefold().split())
            own = _own_name(edge, whose)
            if own and bare in (f"{own} of {whose}", f"{whose}.{own}", f"{whose} {own}"):
                return TapedAt(edges=(str(edge.id),))
            if own == bare and edge.kind != "hem":
                found.append(str(edge.id))
    return TapedAt(edges=tuple(found), each=True) if found else None


def _own_name(edge: Edge, whose: str) -> str:
    """Return the name of an edge without that of its piece: "front-side" of front is its "side"."""
    own = " ".join(edge.name.casefold().replace("-", " ").replace("_", " ").split())
    return own.removeprefix(f"{whose} ").removesuffix(f" {whose}")


def taped_findings(pattern: Pattern, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield where the pattern differs from what was taped on the garment, and what could not be placed."""
    del tolerances  # a tape is coarser than a seam: its own limits hold
    for name, taped_mm in pattern.taped.items():
        at = pattern.taped_at.get(name) or understood(pattern, name)
        if at is None:
            yield Finding(
                "tape-unplaced",
                "note",
                f"“{name}” was taped as {taped_mm:.0f} mm, and nothing in the pattern is called so. Name a seam, an edge or a "
                f"balance line like it, or say where it was taped.",
                (name,),
            )
            continue
        yield from _compared(pattern, name, taped_mm, at)


def _compared(pattern: Pattern, name: str, taped_mm: float, at: TapedAt) -> Iterator[Finding]:
    if at.at:
        found = _taken_round(pattern, at)
        if found is not None:
            yield from _round_differs(pattern, name, taped_mm, at, found)
        return
    for run in _runs_of(pattern, at):
        try:
            edges = [pattern.edge(e) for e in run]
        except NotFound:
            continue  # the edge is gone: what named it says so
        yield from _run_differs(name, taped_mm, edges)


def _runs_of(pattern: Pattern, at: TapedAt) -> list[tuple[str, ...]]:
    """Return the runs that should each be as long as the tape said."""
    if at.seam is None:
        return [(e,) for e in at.edges] if at.each else [at.edges]
    seam = pattern.seams.get(at.seam)
    if seam is None:
        return []
    a, b = tuple(str(p.edge) for p in seam.a), tuple(str(p.edge) for p in seam.b)
    if seam.b_mirrored and set(a) == set(b):
        return [a]
    # the garment shows the side that is neither gathered nor eased
    gathered = {g.edge for p in pattern.pieces.values() for g in p.gathers}
    full = [any(pattern.resolve(e) in gathered for e in run) for run in (a, b)]
    if full[0] != full[1]:
        return [b] if full[0] else [a]
    return [b] if seam.ease_mm > 0.0 else [a] if seam.ease_mm < 0.0 else [a, b]


def _run_differs(name: str, taped_mm: float, edges: list[tuple[Piece, Edge]]) -> Iterator[Finding]:
    mm = sum(sewn_length_mm(p, e) for p, e in edges)
    off, fine = mm - taped_mm, fine_mm(taped_mm)
    severity = graded(off, fine, NOTE_TIMES * fine)
    if severity is None:
        return
    line = " + ".join(f"“{called(p, e)}” of “{p.name}”" for p, e in edges)
    last = edges[-1][1]
    where = tuple(dict.fromkeys([name, *(str(p.id) for p, _ in edges), *(str(e.id) for _, e in edges)]))
    yield Finding(
        "tape-differs",
        severity,
        f"{name[:1].upper()}{name[1:]}: {line} is {mm:.1f} mm, and the garment was taped at {taped_mm:.0f} mm: {abs(off):.1f} mm "
        f"too {'long' if off > 0.0 else 'short'} (limit {fine:.1f} mm).",
        where,
        last.path.point_at(last.path.length_mm / 2.0),
        off,
        fine,
        (*_settles(where),),
    )


def _round_differs(
    pattern: Pattern, name: str, taped_mm: float, at: TapedAt, found: FinishedMeasure
) -> Iterator[Finding]:
    mm = found.mm / (2.0 if at.half else 1.0)
    off, fine = mm - taped_mm, fine_mm(taped_mm)
    severity = graded(off, fine, NOTE_TIMES * fine)
    if severity is None:
        return
    parts = ", ".join(
        f"“{s.name}” gives {s.mm * s.times / (2.0 if at.half else 1.0):.1f} mm" for s in found.shares
    )
    where = (name, *dict.fromkeys(s.piece for s in found.shares), *found.edges)
    piece = pattern.piece(found.shares[0].piece)
    xa, ya, xb, yb = piece.outline.bounds
    yield Finding(
        "tape-differs",
        severity,
        f"{name[:1].upper()}{name[1:]}: the pattern gives {mm:.1f} mm, and the garment was taped at {taped_mm:.0f} mm: "
        f"{abs(off):.1f} mm too {'wide' if off > 0.0 else 'narrow'} (limit {fine:.1f} mm). Of it {parts}.",
        where,
        ((xa + xb) / 2.0, (ya + yb) / 2.0),
        off,
        fine,
        (*_settles(where),),
    )


def _settles(where: tuple[str, ...]) -> Iterator[Fix]:
    params = {"code": "tape-differs", "where": list(where)}
    yield Fix("finding.settle", params, "The garment has stretched or shrunk there; keep the pattern")


def fine_mm(taped_mm: float) -> float:
    """Return how exactly a taped length and the pattern should agree."""
    return FINE_SHORT_MM if taped_mm < SHORT_MM else FINE_SHARE * taped_mm


def _taken_round(pattern: Pattern, at: TapedAt) -> FinishedMeasure | None:
    pieces = at.pieces or None
    name = at.at.casefold().strip()
    if name == "hem":
        hems = [m for m in finished_measures(pattern) if m.name.startswith("hem of ")]
        if pieces is not None:
            hems = [m for m in hems if any(s.piece in pieces for s in m.shares)]
        return hems[0] if hems else None
    found = round_at(pattern, name, pieces)
    if found is None and name in ("underarm", "under arm"):
        shares = tuple(s for s in _underarm(pattern) if pieces is None or s.piece in pieces)
        if shares:
            return FinishedMeasure("underarm", "round", sum(s.mm * s.times for s in shares), shares)
    return found


def _underarm(pattern: Pattern) -> Iterator[Share]:
    for piece in pattern.pieces.values():
        count = len(piece.edges)
        for i, edge in enumerate(piece.edges):
            names = {edge.name.casefold(), piece.edges[(i + 1) % count].name.casefold()}
            if any("armhole" in n for n in names) and any("side" in n for n in names) and times_cut(piece):
                # a hair below the corner, so that the level line is well inside
                yield Share(
                    piece.id, piece.name, width_at_mm(piece, edge.path.end[1] - 0.01), times_cut(piece)
                )
                break
