"""Recipes evaluated on the current pattern: always up to date, never stored as outlines.

Words
-----
recipe
    How a piece is made from others: kind, sources, parameters, and the maker's adjustments by hand.
derivation
    All derived pieces of a pattern, the seams that come with them, and what could not be made.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from eke.derive.by_hand import adjust
from eke.derive.derived import Derived, derived_id
from eke.derive.facing import facing
from eke.derive.lining import layer, lining
from eke.derive.strip import strip
from eke.errors import BadInput, EkeError, NotFound
from eke.findings import Finding
from eke.pattern.model import EdgeId, Pattern, PieceId, Recipe, RunPart, Seam, SeamId
from eke.pattern.parted import recipe_edges

_log = logging.getLogger(__name__)
Maker = Callable[[Pattern, Recipe], tuple[Derived, ...]]


def recipe_kinds() -> Mapping[str, Maker]:
    """Return the kinds of recipe that there are, each with the function that evaluates it."""
    return {"facing": facing, "lining": lining, "layer": layer, "strip": strip}


@dataclass(frozen=True, slots=True)
class Derivation:
    """Derived pieces by id, the seams that come with them, and findings about recipes that could not be made."""

    pieces: Mapping[PieceId, Derived] = field(default_factory=dict)
    seams: Mapping[SeamId, Seam] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


class Derivations:
    """Evaluates patterns and remembers the last few, by content: the same pattern is not worked out twice."""

    KEPT: Final = 8

    def __init__(self, kinds: Mapping[str, Maker] | None = None) -> None:
        self._kinds = recipe_kinds() if kinds is None else kinds
        self._known: list[tuple[Pattern, Derivation]] = []

    def of(self, pattern: Pattern) -> Derivation:
        """Return the derivation of ``pattern``."""
        for known, derivation in self._known:
            if known is pattern or known == pattern:
                return derivation
        made = derive(pattern, self._kinds)
        self._known = [*self._known[-(self.KEPT - 1) :], (pattern, made)]
        return made


def in_order(pattern: Pattern) -> tuple[tuple[Recipe, ...], tuple[Recipe, ...]]:
    """Return the recipes in an order in which each comes after its sources, and those that go in circles."""
    placed: dict[str, Recipe] = {}
    left = dict(pattern.recipes)
    while True:
        ready = [
            r
            for r in left.values()
            if not any(s in left and s != r.id for s in r.sources) and r.id not in r.sources
        ]
        if not ready:
            return tuple(placed.values()), tuple(left.values())
        for recipe in ready:
            placed[recipe.id] = left.pop(recipe.id)


def derive(pattern: Pattern, kinds: Mapping[str, Maker]) -> Derivation:
    """Evaluate all recipes of ``pattern``; one that cannot be made becomes a finding, the rest go on."""
    pieces: dict[PieceId, Derived] = {}
    findings: list[Finding] = []
    ordered, circles = in_order(pattern)
    findings += [
        _gone(recipe, f"“{recipe.name}” is made of itself. Choose another piece to make it from.")
        for recipe in circles
    ]
    seen = pattern
    for recipe in ordered:
        maker = kinds.get(recipe.kind)
        if maker is None:
            findings.append(
                _gone(recipe, f"“{recipe.name}” is a “{recipe.kind}”, which this version does not know.")
            )
            continue
        try:
            sources = tuple(s for source in recipe.sources for s in _pieces_of(source, pieces, pattern))
            made = maker(seen, replace(recipe, sources=sources))
        except EkeError as error:
            findings.append(_gone(recipe, error.message))
            continue
        except Exception:
            # params may come from a file or another program; one bad recipe must not lock the maker out
            _log.exception("the recipe %s (%s) broke", recipe.id, recipe.kind)
            findings.append(
                _gone(
                    recipe, f"What “{recipe.name}” is made of cannot be read. Say it again, or leave it out."
                )
            )
            continue
        for derived in made:
            adjusted, gone = adjust(derived, recipe.by_hand)
            findings += gone
            pieces[adjusted.piece.id] = adjusted
            seen = seen.with_piece(adjusted.piece)
    return Derivation(pieces, _seams(pattern, pieces), tuple(findings))


def with_derived(pattern: Pattern, derivation: Derivation) -> Pattern:
    """Return the pattern with its derived pieces and seams in it, as cutting and making up need it."""
    return replace(
        pattern,
        pieces={**pattern.pieces, **{key: d.piece for key, d in derivation.pieces.items()}},
        seams={**pattern.seams, **derivation.seams},
    )


def _pieces_of(source: str, pieces: Mapping[PieceId, Derived], pattern: Pattern) -> tuple[str, ...]:
    """A source is a piece, or a recipe that stands for all pieces it made."""
    if source in pattern.recipes:
        made = tuple(key for key, d in pieces.items() if d.recipe == source)
        if not made:
            raise NotFound(f"“{pattern.recipes[source].name}” yields no piece to make this from.")
        return made
    if PieceId(source) in pieces:
        return (source,)
    return (pattern.piece(source).id,)


def _gone(recipe: Recipe, sentence: str) -> Finding:
    return Finding("target-gone", "ask", sentence, where=(recipe.id,))


def _seams(pattern: Pattern, pieces: Mapping[PieceId, Derived]) -> dict[SeamId, Seam]:
    """Seams among derived pieces that follow the pattern's own, and the seams that join them to it."""
    by_recipe: dict[str, dict[EdgeId, list[tuple[Derived, EdgeId]]]] = {}
    for derived in pieces.values():
        for new, old in derived.origin.items():
            by_recipe.setdefault(derived.recipe, {}).setdefault(old, []).append((derived, new))
    seams: dict[SeamId, Seam] = {}
    for recipe_id, edges in by_recipe.items():
        for seam in pattern.seams.values():
            runs = [_copied(pattern, run, edges) for run in (seam.a, seam.b)]
            if runs[0] and runs[1]:
                new_id = SeamId(derived_id(recipe_id, seam.id))
                seams[new_id] = replace(
                    seam,
                    id=new_id,
                    a=runs[0],
                    b=runs[1],
                    name=f"{seam.name or 'seam'} ({pattern.recipes[recipe_id].name})",
                )
        recipe = pattern.recipes[recipe_id]
        if recipe.kind == "facing":
            for faced in recipe_edges(pattern, recipe):
                for derived, new in edges.get(EdgeId(faced), ()):
                    owner, edge = pattern.edge(faced)
                    new_id = SeamId(derived_id(recipe_id, f"to/{edge.id}"))
                    seams[new_id] = Seam(
                        new_id,
                        (RunPart(owner.id, edge.id),),
                        (RunPart(derived.piece.id, new),),
                        name=f"{recipe.name} to {owner.name}",
                        kind="enclosed",
                    )
    return seams


def _copied(
    pattern: Pattern, run: tuple[RunPart, ...], edges: Mapping[EdgeId, list[tuple[Derived, EdgeId]]]
) -> tuple[RunPart, ...]:
    """The same run on derived edges, or nothing where one of its edges has no counterpart."""
    parts = []
    for part in run:
        found = edges.get(EdgeId(pattern.resolve(part.edge)))
        if not found:
            return ()
        parts += [RunPart(d.piece.id, new, part.reverse) for d, new in found[:1]]
    return tuple(parts)


def recipe_from_params(recipe_id: str, params: Mapping[str, object]) -> Recipe:
    """Return the recipe that JSON parameters describe. Raises :class:`BadInput` where something is missing."""
    kind, name = params.get("recipe"), params.get("name")
    sources, own = params.get("sources", []), params.get("params", {})
    if not isinstance(kind, str) or not isinstance(name, str) or not name.strip():
        raise BadInput("A derived piece needs a kind and a name.")
    if not isinstance(sources, list) or not isinstance(own, dict):
        raise BadInput(f"What “{name}” is made of cannot be read.")
    return Recipe(recipe_id, kind, name.strip(), tuple(str(s) for s in sources), own)
