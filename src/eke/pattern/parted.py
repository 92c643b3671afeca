"""An edge that is parted goes on in its parts: in the seams that run over it, in what is made of it, and held."""

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
    return held_in_parts(gathers_in_parts(pattern, old, new), old, new)


def held_in_parts(pattern: Pattern, old: EdgeId, new: Sequence[EdgeId]) -> Pattern:
    """Return the pattern in which the parts of an edge are held in length and place as the edge was."""
    lengths, points = dict(pattern.held_lengths), dict(pattern.held_points)
    for key, length in lengths.items():
        told = [e for edge in length.edges for e in (new if pattern.resolve(edge) == old else (edge,))]
        if tuple(told) != length.edges:
            lengths[key] = replace(length, edges=tuple(told))
    for key, point in points.items():
        if point.edge is not None and pattern.resolve(point.edge) == old:
            points[key] = replace(point, edge=new[0 if point.end == "start" else -1])
    if lengths == pattern.held_lengths and points == pattern.held_points:
        return pattern
    return replace(pattern, held_lengths=lengths, held_points=points)


def recipe_edges(pattern: Pattern, recipe: Recipe) -> tuple[str, ...]:
    """Return the ids of the edges that a recipe names, as they are called today, each once."""
    return tuple(dict.fromkeys(pattern.resolve(str(edge)) for edge in recipe.params.get("edges", ())))
