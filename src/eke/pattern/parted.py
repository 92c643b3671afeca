"""An edge that is parted goes on in its parts: in the seams that run over it, and in what is made of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from eke.pattern.gathers import gathers_in_parts
from eke.pattern.model import EdgeId, Pattern, Recipe, RunPart


def go_on_in_parts(pattern: Pattern, old: EdgeId, new: Sequence[EdgeId]) -> Pattern:
    """Return the pattern whose seams and recipes name the parts of an edge where they named the edge.

    ``new`` are the parts counter-clockwise; a dart between them is closed when they are sewn.
    """

    def over(run: tuple[RunPart, ...]) -> tuple[RunPart, ...]:
        made: list[RunPart] = []
        for part in run:
            if pattern.resolve(part.edge) != old:
                made.append(part)
                continue
            order = reversed(new) if part.reverse else new
            made += [replace(part, edge=edge) for edge in order]
        return tuple(made)

    for seam in pattern.seams_of(old):
        pattern = pattern.with_seam(replace(seam, a=over(seam.a), b=over(seam.b)))
    for recipe in tuple(pattern.recipes.values()):
        edges = recipe_edges(pattern, recipe)
        if old in edges:
            told = [id_ for edge in edges for id_ in (new if edge == old else (edge,))]
            pattern = pattern.with_recipe(replace(recipe, params={**recipe.params, "edges": told}))
    return gathers_in_parts(pattern, old, new)


def recipe_edges(pattern: Pattern, recipe: Recipe) -> tuple[str, ...]:
    """Return the ids of the edges that a recipe names, as they are called today, each once."""
    return tuple(dict.fromkeys(pattern.resolve(str(edge)) for edge in recipe.params.get("edges", ())))
