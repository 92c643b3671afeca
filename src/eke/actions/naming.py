"""What a change is told by the way: ids for what it makes, and the names that its sentence speaks in.

A window says which edge is straightened; the history says ``Straightened “side of front”``, also when the piece
has another name later. So the names are written into the change once, when it is made.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from eke.actions.naming_facts import edges_words, fact_words
from eke.actions.naming_held import HELD_KINDS, held_told
from eke.actions.room import new_id
from eke.errors import BadInput, NotFound
from eke.pattern.corners import called
from eke.pattern.model import Edge, Pattern, Piece, RunPart, Seam

MAKES: Final[Mapping[str, str]] = {
    "trace.add": "piece",
    "seam.say": "id",
    "notch.set": "id",
    "mark.set": "id",
    "mockup.note": "id",
    "recipe.add": "id",
}
"""Kinds that make something under an id of its own, and the param that holds it."""

LARGEST: Final = 1e6
"""No number in a change of a garment is larger: a kilometre in mm, a year in minutes."""
LONGEST_NAME: Final = 120
"""Letters of a name; it is written on a piece, and stands in sentences."""
CALLS_PIECE: Final = frozenset(
    {"trace.again", "trace.combine", "piece.drop", "piece.cuts", "piece.move", "grain.set", "true.halves"}
)
CALLS_EDGE: Final = frozenset(
    "edge.set edge.traced_as edge.split corner.move true.straighten true.fair true.square true.length true.halves notch.set gather.say".split()
)
CALLS_SEAM: Final = frozenset(
    "true.share true.join notch.pair seam.ease seam.drop balance.match balance.carry".split()
)
NAMES_SEAM: Final = frozenset("fit.take_in fit.move_seam fit.shoulder_slope fit.sleeve_cap fit.join".split())
NAMES_EDGE: Final = frozenset(
    "fit.add_dart fit.move_dart fit.wedge fit.lengthen fit.widen fit.dart_split fit.opening fit.flare fit.hem fit.move_freely fit.open_dart fit.open_pleat fit.open_gathers".split()
)
NAMES_PIECE: Final = frozenset({"fit.broaden", "fit.cut", "fit.princess"})
NAMES_MARK: Final = frozenset({"fit.open_dart", "fit.open_pleat", "dart.inside"})
"""Kinds that begin at a traced line; they speak of its piece."""
NAMES_RECIPE: Final = frozenset({"recipe.set", "recipe.by_hand", "recipe.drop"})


def filled(pattern: Pattern, head: str | None, kind: str, params: Mapping[str, Any]) -> dict[str, Any]:
    """Return the params of a change with ids and names put in where they are not given.

    Parameters
    ----------
    pattern
        As it stands before the change.
    head
        Id of the last change: what a mock-up that is noted now was cut from.
    """
    _require_sane(params)
    require_short(params.get("name"))
    told = dict(params)
    if kind in MAKES and not told.get(MAKES[kind]):
        told[MAKES[kind]] = new_id()
    if kind == "mockup.note":
        told.setdefault("number", 1 + max((m.number for m in pattern.mock_ups.values()), default=0))
        told.setdefault("revision", head)
    if kind == "recipe.add" and not told.get("sources"):
        told["sources"] = _sources(pattern, told)
    for kinds, key, words in (
        (CALLS_PIECE, "called", lambda: pattern.piece(str(told["piece"])).name),
        (CALLS_EDGE, "called", lambda: edge_words(*pattern.edge(str(told["edge"])))),
        (CALLS_SEAM, "called", lambda: seam_words(pattern, pattern.seam(str(told["seam"])))),
        (NAMES_SEAM, "name", lambda: seam_words(pattern, pattern.seam(str(told["seam"])))),
        (NAMES_MARK, "called", lambda: _piece_of_mark(pattern, str(told["mark"])).name),
        (NAMES_EDGE, "name", lambda: edge_words(*pattern.edge(str(told["edge"])))),
        (NAMES_PIECE, "name", lambda: pattern.edge(str(told["edge"]))[0].name),
        (NAMES_RECIPE, "name", lambda: pattern.recipes[str(told["recipe_id"])].name),
    ):
        if kind in kinds and not told.get(key):
            _put(told, key, words)
    if kind in HELD_KINDS:
        told = {
            **held_told(pattern, kind, told),
            **{key: value for key, value in told.items() if value not in (None, "")},
        }
    if kind == "fact.set" and not told.get("called"):
        said = fact_words(pattern, str(told.get("name")), told.get("value"))
        told |= {"called": said} if said else {}
    if kind == "mark.set" and not told.get("called") and told.get("name"):
        told["called"] = told["name"]
    return told


def require_short(name: Any) -> None:
    """Refuse a name that is too long to write on a piece, or to read in a sentence."""
    if isinstance(name, str) and len(name.strip()) > LONGEST_NAME:
        raise BadInput(
            f"A name of {len(name.strip())} letters is too long to write on a piece. Use up to {LONGEST_NAME}. "
            "Nothing was changed."
        )


def _require_sane(value: Any) -> None:
    """Refuse numbers beyond all sense: mathematics overflows with them, and no paper is that large."""
    if isinstance(value, Mapping):
        for inner in value.values():
            _require_sane(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            _require_sane(inner)
    elif isinstance(value, int | float) and not abs(value) <= LARGEST:
        raise BadInput(
            "One of the numbers is larger than any garment. Nothing was changed. Give lengths in mm."
        )


def _put(told: dict[str, Any], key: str, words: Callable[[], str]) -> None:
    try:
        told[key] = words()
    except (NotFound, KeyError):
        return  # what it speaks of is not there: the change itself says so


def _sources(pattern: Pattern, told: Mapping[str, Any]) -> list[str]:
    """The pieces that the edges of a derived piece lie on, where no piece is named."""
    own = told.get("params")
    edges = own.get("edges") if isinstance(own, Mapping) else None
    if not isinstance(edges, Sequence) or isinstance(edges, str):
        return []
    return list(dict.fromkeys(str(pattern.edge(str(e))[0].id) for e in edges))


def _piece_of_mark(pattern: Pattern, mark: str) -> Piece:
    found = next((p for p in pattern.pieces.values() if any(m.id == mark for m in p.marks)), None)
    if found is None:
        raise NotFound("That mark is not there any more.", mark=mark)
    return found


def edge_words(piece: Piece, edge: Edge) -> str:
    """Return an edge in plain words: "side of front", or "edge between hem and armhole of front" without a name."""
    return f"{called(piece, edge)} of {piece.name}"


def run_words(pattern: Pattern, parts: Sequence[RunPart]) -> str:
    """Return one side of a seam in plain words: "the armhole of front and the armhole of side front"."""
    return edges_words(pattern, [part.edge for part in parts])


def seam_words(pattern: Pattern, seam: Seam) -> str:
    """Return what to call a seam: its name, or both its sides."""
    if seam.name:
        return seam.name
    a, b = run_words(pattern, seam.a), run_words(pattern, seam.b)
    return f"{a} with itself" if a == b else f"{a} to {b}"
