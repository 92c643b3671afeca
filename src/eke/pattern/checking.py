"""Check a pattern: walk every seam, look at folds, darts, notches and outlines; everything found is a finding.

Each check is one function ``(pattern, tolerances) -> findings``; :func:`check` runs all of them. What the maker
said is meant (``Pattern.settled``) is not found again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from eke.errors import NotFound
from eke.findings import Finding, Fix, Severity
from eke.geometry import trouble_of
from eke.pattern.balance import balance_findings
from eke.pattern.corners import (
    called,
    corner_point,
    dart_apex,
    dart_legs_mm,
    folds_away,
    interior_angle_deg,
    neighbour,
    point_of,
)
from eke.pattern.held import held_findings
from eke.pattern.model import Edge, Pattern, Piece, Seam
from eke.pattern.pleats import mouth_off_mm
from eke.pattern.taped import taped_findings
from eke.pattern.tolerances import DEFAULT, Tolerances, graded
from eke.pattern.trueing import can_share
from eke.pattern.walking import Walk, walk
from eke.sentences import in_a_row

Check = Callable[[Pattern, Tolerances], Iterator[Finding]]


def check(pattern: Pattern, tolerances: Tolerances = DEFAULT) -> tuple[Finding, ...]:
    """Return everything that is found wrong with a pattern, worst first; settled findings are left out."""
    found = [f for one in CHECKS for f in one(pattern, tolerances) if not is_settled(pattern, f)]
    rank = {"fault": 0, "ask": 1, "note": 2}
    return tuple(sorted(found, key=lambda f: rank[f.severity]))


def check_seam(pattern: Pattern, seam_id: str, tolerances: Tolerances = DEFAULT) -> tuple[Finding, ...]:
    """Return what walking one seam shows."""
    seam = pattern.seam(seam_id)
    return tuple(f for f in _seam_findings(pattern, seam, tolerances) if not is_settled(pattern, f))


def is_settled(pattern: Pattern, finding: Finding) -> bool:
    """Whether the maker said that this is meant."""
    return (finding.code, tuple(sorted(finding.where))) in pattern.settled


def _seams(pattern: Pattern, tolerances: Tolerances) -> Iterator[Finding]:
    for seam in pattern.seams.values():
        yield from _seam_findings(pattern, seam, tolerances)


def _seam_findings(pattern: Pattern, seam: Seam, tolerances: Tolerances) -> Iterator[Finding]:
    try:
        walked = walk(pattern, seam.id, tolerances)
    except NotFound as gone:
        named = f"seam “{seam.name}”" if seam.name else "a seam without a name"
        yield Finding(
            "target-gone",
            "ask",
            f"{named[0].upper()}{named[1:]} names an edge that is gone. {gone.message} Say the seam again, or drop it.",
            (seam.id,),
            fixes=(Fix("seam.drop", {"seam": seam.id}, f"Drop {named}"),),
        )
        return
    yield from _length(walked, tolerances, pattern)
    yield from _notches(walked, tolerances)
    yield from balance_findings(walked, _seam_name(walked), tolerances)
    yield from _confusable(walked, tolerances)
    yield from _joins(walked, tolerances)


def _length(walked: Walk, t: Tolerances, pattern: Pattern) -> Iterator[Finding]:
    seam, off = walked.seam, walked.difference_mm
    severity = graded(off, t.length_fine_mm, t.length_note_mm)
    if severity is None:
        return
    a, b = _run_name(walked, "a"), _run_name(walked, "b")
    longer, shorter = (
        (walked.a, walked.b) if walked.a.length_mm >= walked.b.length_mm else (walked.b, walked.a)
    )
    ease = f", {abs(seam.ease_mm):g} mm of ease counted" if seam.ease_mm else ""
    if gathered := sum(t.mm for t in (*walked.taken_a, *walked.taken_b)):
        ease += f", {gathered:.0f} mm of gathers drawn up"
    missing = seam.ease_mm * (walked.sewn_a_mm - walked.sewn_b_mm) < 0.0
    sentence = (
        f"{_seam_name(walked)}: {a} is {walked.a.length_mm:.1f} mm and {b} {walked.b.length_mm:.1f} mm, "
        f"{abs(off):.1f} mm apart{ease} (limit {t.length_fine_mm:g} mm)."
    )
    piece, at = longer.point_at(longer.length_mm)
    del piece, shorter
    yield Finding(
        "seam-ease-missing" if missing else "seam-length",
        "ask" if missing else severity,
        sentence,
        (seam.id,),
        at,
        off,
        t.length_fine_mm,
        (
            *_shares(walked, a, b, pattern),
            Fix(
                "seam.ease",
                {"seam": seam.id, "ease_mm": round(walked.sewn_a_mm - walked.sewn_b_mm, 2)},
                "It is meant: ease the longer side in",
            ),
        ),
    )


def _shares(walked: Walk, a: str, b: str, pattern: Pattern) -> Iterator[Fix]:
    """Ways to share a difference: at the end of the seam; at its start where something held forbids that."""
    off = abs(walked.difference_mm)
    for at in ("end", "start"):
        found = False
        for share, words in (
            (0.5, f"Share the {off:.1f} mm between both sides"),
            (1.0, f"Change {a} only, by {off:.1f} mm"),
            (0.0, f"Change {b} only, by {off:.1f} mm"),
        ):
            if can_share(pattern, walked.seam.id, share, at):
                found = True
                params = {"seam": walked.seam.id, "share_a": share, "at": at}
                yield Fix("true.share", params, words if at == "end" else f"{words}, at its start")
        if found:
            return


def _notches(walked: Walk, t: Tolerances) -> Iterator[Finding]:
    seam = walked.seam
    for pair in walked.pairs:
        severity = graded(pair.apart_mm, t.notch_fine_mm, t.notch_note_mm)
        if severity is None:
            continue
        yield Finding(
            "notch-apart",
            severity,
            f"{_seam_name(walked)}: a notch of “{pair.b.piece.name}” lies {abs(pair.apart_mm):.1f} mm from where its mate "
            f"on “{pair.a.piece.name}” wants it (limit {t.notch_fine_mm:g} mm).",
            (seam.id, pair.a.notch.id, pair.b.notch.id),
            point_of(pair.b.piece, pair.b.notch.at),
            pair.apart_mm,
            t.notch_fine_mm,
            (
                Fix(
                    "notch.match",
                    {"seam": seam.id, "notch": pair.b.notch.id, "to": pair.a.notch.id},
                    f"Move the notch of “{pair.b.piece.name}”",
                ),
                Fix(
                    "notch.match",
                    {"seam": seam.id, "notch": pair.a.notch.id, "to": pair.b.notch.id},
                    f"Move the notch of “{pair.a.piece.name}”",
                ),
            ),
        )
    for lonely in walked.alone:
        yield Finding(
            "notch-alone",
            "ask",
            f"{_seam_name(walked)}: a notch of “{lonely.piece.name}”, {lonely.at_mm:.0f} mm along the seam, has no mate.",
            (seam.id, lonely.notch.id),
            point_of(lonely.piece, lonely.notch.at),
            fixes=(
                Fix(
                    "notch.mate",
                    {"seam": seam.id, "notch": lonely.notch.id},
                    "Set its mate on the other side",
                ),
                Fix("notch.drop", {"notch": lonely.notch.id}, "Remove it"),
            ),
        )


def _confusable(walked: Walk, t: Tolerances) -> Iterator[Finding]:
    """Notches of run A, read from its other end, look the same as run B's from the start."""
    if not walked.pairs or walked.alone or {p.edge for p in walked.seam.a} == {p.edge for p in walked.seam.b}:
        return
    ahead = [(p.b.at_mm, p.b.notch.count) for p in walked.pairs]
    back = [(walked.a.length_mm - p.a.at_mm, p.a.notch.count) for p in reversed(walked.pairs)]
    off = [abs(x - y) for (x, _), (y, _) in zip(ahead, back, strict=True)]
    if any(c != d for (_, c), (_, d) in zip(ahead, back, strict=True)) or max(off) > t.confusable_mm:
        return
    if _ends_differ(walked):
        return
    notch = walked.pairs[0].a
    yield Finding(
        "notch-confusable",
        "note",
        f"{_seam_name(walked)}: its notches look the same from both ends ({max(off):.0f} mm apart), so it could be "
        f"sewn end for end.",
        (walked.seam.id,),
        point_of(notch.piece, notch.notch.at),
        max(off),
        t.confusable_mm,
        (
            Fix(
                "notch.double",
                {"seam": walked.seam.id, "notch": notch.notch.id},
                "Make one pair of notches double",
            ),
        ),
    )


def _ends_differ(walked: Walk) -> bool:
    """Whether nobody would turn the seam round: its two ends lie at unlike corners."""
    angles = []
    for stretch, end in ((walked.a.stretches[0], "start"), (walked.a.stretches[-1], "end")):
        own = stretch.first_end if end == "start" else stretch.last_end
        angles.append(interior_angle_deg(stretch.piece, stretch.edge.id, own))
    return abs(angles[0] - angles[1]) > 30.0


def _joins(walked: Walk, t: Tolerances) -> Iterator[Finding]:
    for join in walked.joins:
        severity = graded(join.off_deg, t.join_fine_deg, t.join_note_deg)
        if severity is None:
            continue
        stretch = walked.a.stretches[0 if join.at == "start" else -1]
        end = stretch.first_end if join.at == "start" else stretch.last_end
        shape = "a dip" if join.off_deg > 0.0 else "a point"
        yield Finding(
            "join-angle",
            severity,
            f"Where “{join.piece_a.name}” and “{join.piece_b.name}” join at the {join.at} of {_seam_name(walked, capital=False)}, "
            f"the corners are {join.angle_a_deg:.1f}° and {join.angle_b_deg:.1f}°: together {abs(join.off_deg):.1f}° "
            f"{'more' if join.off_deg > 0 else 'less'} than 180°, which gives {shape}.",
            (walked.seam.id, join.at),
            corner_point(stretch.edge, end),
            join.off_deg,
            t.join_fine_deg,
            (
                Fix(
                    "true.join",
                    {"seam": walked.seam.id, "at": join.at},
                    "Redraw the join as one smooth curve",
                ),
                Fix(
                    "finding.settle",
                    {"code": "join-angle", "where": [walked.seam.id, join.at]},
                    "The corner is meant",
                ),
            ),
        )


def _folds(pattern: Pattern, t: Tolerances) -> Iterator[Finding]:
    for piece in pattern.pieces.values():
        if piece.fold is None:
            continue
        for end in ("start", "end"):
            edge = neighbour(piece, piece.fold, end)
            if folds_away(piece, edge.id):
                continue
            off = interior_angle_deg(piece, piece.fold, end) - 90.0
            severity = graded(off, t.fold_fine_deg, t.fold_note_deg)
            if severity is None:
                continue
            yield Finding(
                "fold-square",
                severity,
                f"“{called(piece, edge)}” of “{piece.name}” meets the fold at {90.0 + off:.1f}° instead of 90°, so the whole "
                f"piece gets {'a point' if off < 0.0 else 'a dip'} there.",
                (piece.id, edge.id),
                corner_point(piece.edge(piece.fold), end),
                off,
                t.fold_fine_deg,
                (
                    Fix(
                        "true.square",
                        {"edge": edge.id, "end": "start" if end == "end" else "end"},
                        "Square it off at the fold",
                    ),
                    Fix(
                        "finding.settle",
                        {"code": "fold-square", "where": [piece.id, edge.id]},
                        "The point is meant",
                    ),
                ),
            )


def _darts(pattern: Pattern, t: Tolerances) -> Iterator[Finding]:
    for piece in pattern.pieces.values():
        for dart in piece.darts:
            first, second = dart_legs_mm(piece, dart)
            severity = graded(first - second, t.dart_legs_fine_mm, t.dart_legs_note_mm)
            if severity is not None:
                yield Finding(
                    "dart-legs",
                    severity,
                    f"The legs of a dart of “{piece.name}” are {first:.1f} and {second:.1f} mm long, "
                    f"{abs(first - second):.1f} mm apart.",
                    (piece.id, dart.id),
                    dart_apex(piece, dart),
                    first - second,
                    t.dart_legs_fine_mm,
                    (Fix("dart.true", {"dart": dart.id}, "Make both legs as long as their mean"),),
                )


def _pleats(pattern: Pattern, t: Tolerances) -> Iterator[Finding]:
    for piece in pattern.pieces.values():
        for pleat in piece.pleats:
            off = mouth_off_mm(piece, pleat)
            severity = graded(off, t.length_fine_mm, t.length_note_mm)
            if severity is not None:
                yield Finding(
                    "pleat-mouth",
                    severity,
                    f"The edge across a pleat of “{piece.name}” does not lie flush when it is folded: it is up to {off:.1f} mm off.",
                    (piece.id, pleat.id),
                    piece.edge(pleat.mouths[0][0]).path.end,
                    off,
                    t.length_fine_mm,
                    (Fix("pleat.true", {"pleat": pleat.id}, "Draw it as the edge beside it, folded"),),
                )


def _unsaid(pattern: Pattern, t: Tolerances) -> Iterator[Finding]:
    del t
    said = {pattern.resolve(p.edge) for s in pattern.seams.values() for p in s.parts()}
    for piece in pattern.pieces.values():
        for edge in piece.edges:
            if edge.kind == "seam" and edge.id not in said and not folds_away(piece, edge.id):
                yield _unsaid_edge(piece, edge)


def _unsaid_edge(piece: Piece, edge: Edge) -> Finding:
    return Finding(
        "seam-unsaid",
        "ask",
        f"“{called(piece, edge)}” of “{piece.name}” ({edge.path.length_mm:.0f} mm) belongs to no seam yet.",
        (piece.id, edge.id),
        edge.path.point_at(edge.path.length_mm / 2.0),
        fixes=(Fix("edge.set", {"edge": edge.id, "kind": "opening"}, "It is not sewn to another piece"),),
    )


def _outlines(pattern: Pattern, t: Tolerances) -> Iterator[Finding]:
    del t
    for piece in pattern.pieces.values():
        trouble = trouble_of(piece.outline)
        if trouble is not None:
            yield Finding(
                "outline-crosses",
                "fault",
                f"The outline of “{piece.name}” {trouble.kind}.",
                (piece.id,),
                trouble.at,
            )


def _grain(pattern: Pattern, t: Tolerances) -> Iterator[Finding]:
    del t
    for piece in pattern.pieces.values():
        if piece.grain is None:
            severity: Severity = "ask"
            yield Finding(
                "grain-missing",
                severity,
                f"“{piece.name}” has no grain line. As it lies, its grain runs up and down.",
                (piece.id,),
                fixes=(Fix("grain.set", {"piece": piece.id}, "Take it as it lies"),),
            )


CHECKS: Final[tuple[Check, ...]] = (
    _outlines, _seams, _folds, _darts, _pleats, _unsaid, _grain, taped_findings, held_findings,
)  # fmt: skip
"""All checks, in order; a new one is a function added here."""


def _seam_name(walked: Walk, *, capital: bool = True) -> str:
    if walked.seam.name:
        return f"{'Seam' if capital else 'seam'} “{walked.seam.name}”"
    ones, others = (in_a_row(f"“{s.piece.name}”" for s in run.stretches) for run in (walked.a, walked.b))
    between = f"within {ones}" if ones == others else f"between {ones} and {others}"
    return f"{'The' if capital else 'the'} seam {between}"


def _run_name(walked: Walk, side: str) -> str:
    run = walked.a if side == "a" else walked.b
    return " + ".join(f"“{called(s.piece, s.edge)}” of “{s.piece.name}”" for s in run.stretches)
