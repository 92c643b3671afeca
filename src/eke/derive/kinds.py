"""Recipes as changes in a garment's history: add one, change its parameters, adjust by hand, drop it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from eke.changes import ChangeKind, Context, reading
from eke.derive.recipes import recipe_from_params, recipe_kinds
from eke.errors import BadInput, ChangeConflict
from eke.pattern.model import HandChange, Pattern, Recipe


def recipe_changes() -> tuple[ChangeKind[Pattern], ...]:
    """Return the kinds: ``recipe.add``, ``recipe.set``, ``recipe.by_hand``, ``recipe.drop``."""
    return (
        ChangeKind("recipe.add", 1, reading("recipe.add", _add), lambda p: f"Added “{p['name']}”", lambda p: tuple(p.get("sources", ()))),
        ChangeKind("recipe.set", 1, reading("recipe.set", _set), lambda p: f"Changed “{p.get('name', 'a derived piece')}”", _recipe),
        ChangeKind("recipe.by_hand", 1, reading("recipe.by_hand", _by_hand), lambda p: f"Adjusted “{p.get('name', 'a derived piece')}” by hand", _recipe),
        ChangeKind("recipe.drop", 1, reading("recipe.drop", _drop), lambda p: f"Left out “{p.get('name', 'a derived piece')}”", _recipe),
    )  # fmt: skip


def _recipe(params: Mapping[str, Any]) -> tuple[str, ...]:
    return (str(params["recipe_id"]),)


def _known(state: Pattern, params: Mapping[str, Any]) -> Recipe:
    found = state.recipes.get(str(params.get("recipe_id")))
    if found is None:
        raise ChangeConflict(
            "The derived piece that this step speaks of is not there.", candidates=tuple(state.recipes)
        )
    return found


def _add(state: Pattern, params: Mapping[str, Any], context: Context) -> Pattern:
    recipe = recipe_from_params(str(params.get("id") or context.record_id), params)
    if recipe.id in state.recipes or recipe.id in state.pieces:
        raise ChangeConflict(f"There is already something with the id of “{recipe.name}”.")
    if recipe.kind not in recipe_kinds():
        raise BadInput(f"A derived piece is one of {', '.join(recipe_kinds())}, not “{recipe.kind}”.")
    for source in recipe.sources:
        if source not in state.recipes:
            state.piece(source)
    for edge in recipe.params.get("edges", ()):
        state.edge(str(edge))
    return state.with_recipe(recipe)


def _set(state: Pattern, params: Mapping[str, Any], context: Context) -> Pattern:
    recipe = _known(state, params)
    own = params.get("params", {})
    if not isinstance(own, dict):
        raise BadInput(f"What is to change in “{recipe.name}” cannot be read.")
    return state.with_recipe(replace(recipe, params={**recipe.params, **own}))


def _by_hand(state: Pattern, params: Mapping[str, Any], context: Context) -> Pattern:
    recipe = _known(state, params)
    change = HandChange(context.record_id, str(params["change"]), dict(params.get("params", {})))
    return state.with_recipe(replace(recipe, by_hand=(*recipe.by_hand, change)))


def _drop(state: Pattern, params: Mapping[str, Any], context: Context) -> Pattern:
    recipe = _known(state, params)
    users = [r.name for r in state.recipes.values() if recipe.id in r.sources]
    if users:
        raise ChangeConflict(f"“{users[0]}” is made from “{recipe.name}”. Leave that out first.")
    return replace(state, recipes={key: r for key, r in state.recipes.items() if key != recipe.id})
