"""The order of work, computed from the seams.

What forces an order: cloth is washed and pressed before it is cut; darts are sewn while a piece is flat; a
seam that a run crosses is sewn and pressed before that run is; what the maker said comes first comes
first; facings and linings are whole before they are joined to the outside; hems and buttons come last.
Everything else is free, and is put so that the work stays flat as long as it can: seams that close a ring
come after those that do not.

References
----------
Pressing before crossing: US Dept of Agriculture, *Fitting Dresses*. Lining after the outside: *The New
Dressmaker*, Butterick 1921, p. 62. Facing steps, trimming and clipping: *Apparel: Design, Textiles &
Construction*, 2012, pp. 451-452. The rest is common practice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from eke.cloth import Cloth
from eke.derive.derived import Derived
from eke.errors import BadInput
from eke.making.facts import Facts
from eke.making.graph import Before
from eke.making.rings import Rings
from eke.making.seams import SAME_CORNER_MM, Making, clip_count, clipping, curves_of, making_of
from eke.making.shaping import gather_words, shaping_steps
from eke.making.words import finish_steps, hem_words, listed, sew_words
from eke.pattern.model import Pattern, Piece, RunPart, Seam, SeamId

TaskKind = Literal[
    "wash", "press cloth", "lay", "cut", "mark", "stay-stitch", "interface", "dart", "pleat", "gather", "prepare", "sew on", "neaten facing", "line",
    "sew", "trim", "neaten", "press", "understitch", "tack", "hem", "last press", "buttonholes", "buttons",
]  # fmt: skip

_STAGE: Final[Mapping[TaskKind, int]] = {
    "wash": 0, "press cloth": 1, "lay": 2, "cut": 3, "mark": 4, "stay-stitch": 5, "interface": 6, "dart": 10, "pleat": 11,
    "prepare": 12, "gather": 13, "sew on": 14, "sew": 20, "neaten facing": 27, "line": 34, "tack": 55, "hem": 60, "last press": 80,
    "buttonholes": 90, "buttons": 95,
}  # fmt: skip
_FOLLOW_UP: Final = frozenset({"trim", "neaten", "press", "understitch"})
STAY_LEAST_MM: Final = 40.0
"""Less of an inward curve than this hardly stretches while it waits."""


@dataclass(frozen=True, slots=True)
class Task:
    """One step of the work: a plain sentence, and the ids of the pieces and seams that it is about."""

    id: str
    kind: TaskKind
    sentence: str
    pieces: tuple[str, ...] = ()
    seams: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WorkOrder:
    """All tasks in order, the pairs of task ids whose order is forced, and what could not be kept."""

    tasks: tuple[Task, ...]
    forced: frozenset[tuple[str, str]]
    notes: tuple[str, ...] = ()


def order_of_work(
    pattern: Pattern,
    derived: Sequence[Derived] = (),
    seams: Mapping[SeamId, Seam] | None = None,
    *,
    facts: Facts | None = None,
    cloths: Sequence[Cloth] = (),
) -> WorkOrder:
    """Return the order of work for a pattern with its derived pieces and their seams.

    Raises
    ------
    BadInput
        When what the maker said comes first goes round in a circle.
    NotFound
        When a seam names a piece or edge that is not there.
    """
    return _Planner(making_of(pattern, derived, seams), facts or Facts(), cloths).order()


class _Planner:
    """Gathers tasks and pairs, then sorts. One use only."""

    def __init__(self, making: Making, facts: Facts, cloths: Sequence[Cloth]) -> None:
        self.making, self.facts, self.cloths = making, facts, cloths
        self.tasks: dict[str, Task] = {}
        self.before: Before[str] = Before()
        self.notes: list[str] = []
        self.first: dict[str, str] = {}  # seam id → its first task
        self.last: dict[str, str] = {}  # seam id → its last task
        self.rings = Rings(making)

    def order(self) -> WorkOrder:
        begin = self._prepare()
        darts = self._darts(begin)
        for group in self._groups():
            self._seam(group, begin)
        darts += self._shaped(begin)
        for piece_id, dart in darts:
            for seam in self.making.seams.values():
                if self.first[seam.id] != dart and any(
                    self.making.piece(p.piece).id == piece_id for p in seam.parts()
                ):
                    self._pair(dart, self.first[seam.id])
        self._gathered(begin)
        self._said_first()
        self._crossings()
        self._facings(begin)
        self._linings(begin)
        self._doubled(begin)
        self._sewn_on(begin)
        hems = self._hems(begin)
        self._end(begin, hems)
        return self._sorted()

    # ---- gathering

    def _task(
        self, kind: TaskKind, id_: str, sentence: str, pieces: Sequence[str] = (), seams: Sequence[str] = ()
    ) -> str:
        self.tasks[id_] = Task(id_, kind, sentence, tuple(pieces), tuple(seams))
        return id_

    def _pair(self, first: str, second: str) -> bool:
        return self.before.add(first, second)

    def _chain(self, *ids: str) -> None:
        for a, b in pairwise(ids):
            self._pair(a, b)

    def _prepare(self) -> str:
        """What comes before all sewing; returns the last of it."""
        chain = []
        unwashed = [cloth.name for cloth in self.cloths if not cloth.washed]
        if unwashed:
            words = f"Wash {listed(unwashed)} as the garment will be washed, and let it dry."
            chain.append(self._task("wash", "wash", words))
        chain.append(self._task("press cloth", "press cloth", "Press the cloth flat, along the grain."))
        chain.append(
            self._task(
                "lay",
                "lay",
                "Lay out every piece by the lay plan, all of them before anything is cut; pin or weight.",
            )
        )
        chain.append(self._task("cut", "cut", "Cut out all pieces, the large ones first; keep the offcuts."))
        marks = "Mark seam lines at corners, notches, darts and balance lines on the wrong side, and put a tag on each piece."
        chain.append(self._task("mark", "mark", marks))
        stretchy = [
            piece
            for piece in self.making.pieces.values()
            if self.making.layer(piece.id) == "outer"
            and any(curves_of(e).inward_mm > STAY_LEAST_MM for e in piece.edges if e.kind != "fold")
        ]
        if stretchy:
            words = (
                f"Stay-stitch the inward curves of {listed([p.name for p in stretchy])} with short stitches just inside the "
                "seam line, so that they do not stretch while you work."
            )
            chain.append(self._task("stay-stitch", "stay-stitch", words, [p.id for p in stretchy]))
        layered = [
            piece
            for piece in self.making.pieces.values()
            if any(cut.role in ("interfacing", "interlining") for cut in piece.cuts)
        ]
        if layered:
            words = f"Fuse or tack interfacing and interlining onto {listed([p.name for p in layered])}."
            chain.append(self._task("interface", "interface", words, [p.id for p in layered]))
        self._chain(*chain)
        return chain[-1]

    def _darts(self, begin: str) -> list[tuple[str, str]]:
        found: list[tuple[str, str]] = []
        for piece in self.making.pieces.values():
            for dart in piece.darts:
                legs = {
                    self.making.pattern.resolve(dart.first_leg),
                    self.making.pattern.resolve(dart.second_leg),
                }
                sewn = [
                    seam.id
                    for seam in self.making.seams.values()
                    if {self.making.pattern.resolve(part.edge) for part in seam.parts()} == legs
                ]
                words = (
                    f"Sew the dart in {piece.name} from the wide end to the point, tie off the threads, and press it to one "
                    "side over a rounded pad."
                )
                id_ = self._task("dart", f"dart:{piece.id}:{dart.id}", words, [piece.id], sewn)
                self._pair(begin, id_)
                for seam_id in sewn:
                    self.first[seam_id] = self.last[seam_id] = id_
                found.append((piece.id, id_))
        return found

    def _shaped(self, begin: str) -> list[tuple[str, str]]:
        """Darts that lie inside a piece, tucks and pleats: sewn and folded while it is flat."""
        found = []
        for piece in self.making.pieces.values():
            for kind, id_, words in shaping_steps(piece):
                self._pair(begin, self._task(kind, id_, words, [piece.id]))
                found.append((str(piece.id), id_))
        return found

    def _gathered(self, begin: str) -> None:
        """What is gathered or eased gets its rows of stitches before the seam that takes it up."""
        for piece in self.making.pieces.values():
            for gather in piece.gathers:
                id_ = self._task(
                    "gather", f"gather:{piece.id}:{gather.id}", gather_words(piece, gather), [piece.id]
                )
                self._pair(begin, id_)
                for seam in self.making.seams.values():
                    if any(self.making.edge(p).id == gather.edge for p in seam.parts()):
                        self._pair(id_, self.first[seam.id])

    def _groups(self) -> list[list[Seam]]:
        """Seams that are one in the work: those that sew one facing on, where its parts hang together."""
        groups: dict[str, list[Seam]] = {}
        for seam in self.making.seams.values():
            if seam.id in self.first:
                continue
            facing = [
                self.making.piece(p.piece).id for p in seam.parts() if self.making.layer(p.piece) == "facing"
            ]
            if facing and self.making.layers_of(seam) == {"facing", "outer"}:
                whole = min(self._hanging_on(facing[0]))
                groups.setdefault(f"facing {whole} {self.making.times(seam)}", []).append(seam)
            else:
                groups[f"seam {seam.id}"] = [seam]
        return list(groups.values())

    def _hanging_on(self, piece_id: str) -> set[str]:
        """The facing pieces that are sewn to a facing piece, to those, and so on."""
        found, open_ = {piece_id}, [piece_id]
        while open_:
            here = open_.pop()
            for seam in self.making.seams.values():
                ids = {str(self.making.piece(part.piece).id) for part in seam.parts()}
                if here in ids and self.making.layers_of(seam) == {"facing"}:
                    new = ids - found
                    found |= new
                    open_ += new
        return found

    def _seam(self, group: Sequence[Seam], begin: str) -> None:
        name = group[0].id
        pieces = list(
            dict.fromkeys(self.making.piece(part.piece).id for seam in group for part in seam.parts())
        )
        sew = self._task(
            "sew", f"sew:{name}", sew_words(self.making, group), pieces, [seam.id for seam in group]
        )
        self._pair(begin, sew)
        chain = [sew]
        for kind, words in finish_steps(self.making, group):
            chain.append(self._task(kind, f"{kind}:{name}", words, pieces))
        self._chain(*chain)
        for seam in group:
            self.first[seam.id], self.last[seam.id] = sew, chain[-1]

    def _said_first(self) -> None:
        for one, two in self.making.pattern.sewn_first:
            if one not in self.first or two not in self.first or self.first[one] == self.first[two]:
                continue
            if not self._pair(self.last[one], self.first[two]):
                names = [self.making.name(self.making.seams[SeamId(id_)]) for id_ in (one, two)]
                raise BadInput(
                    f"“{names[0]}” is said to be sewn before “{names[1]}”, and also after it. Take one of the two back.",
                    seams=(one, two),
                )

    def _crossings(self) -> None:
        """A seam within a run (the side seam within an armhole) is sewn and pressed before the run is."""
        for seam in self.making.seams.values():
            for run in (seam.a, seam.b):
                for here, after in pairwise(run):
                    for crossed in self._joining(seam, here, after):
                        if not self._pair(self.last[crossed.id], self.first[seam.id]):
                            self.notes.append(
                                f"“{self.making.name(crossed)}” crosses “{self.making.name(seam)}”, but comes after it by "
                                "what was said. Leave the last few centimetres of the first one open."
                            )

    def _joining(self, run_of: Seam, here: RunPart, after: RunPart) -> list[Seam]:
        """The seams that join two edges which follow each other in a run."""
        ends = []
        for part, at_end in ((here, True), (after, False)):
            path = self.making.edge(part).path
            ends.append(
                (self.making.piece(part.piece).id, path.end if at_end != part.reverse else path.start)
            )
        found = []
        for seam in self.making.seams.values():
            if seam.id == run_of.id:
                continue
            corners = list(self.making.corners(seam))
            if all(any(piece == p and _near(place, q) for piece, place in corners) for p, q in ends):
                found.append(seam)
        return found

    def _facings(self, begin: str) -> None:
        facings = [p for p in self.making.pieces.values() if self.making.layer(p.id) == "facing"]
        if not facings:
            return
        words = f"Neaten the free edge of the {listed([self.making.title(p.id) for p in facings])} (zigzag, or turn 5 mm under and stitch)."
        neaten = self._task("neaten facing", "neaten facing", words, [p.id for p in facings])
        self._pair(begin, neaten)
        joins = []
        for seam in self.making.seams.values():
            layers = self.making.layers_of(seam)
            if layers == {"facing"}:
                self._pair(self.last[seam.id], neaten)
            elif "facing" in layers and "outer" in layers:
                self._pair(neaten, self.first[seam.id])
                joins.append(seam)
                # what ends at the faced edge (a shoulder at the neck) is sewn and pressed before the facing crosses it
                ends = [c for c in self.making.corners(seam) if self.making.layer(c[0]) == "outer"]
                for other in self.making.seams.values():
                    if self.making.layers_of(other) == {"outer"} and any(
                        piece == p and _near(place, q)
                        for piece, place in self.making.corners(other)
                        for p, q in ends
                    ):
                        self._pair(self.last[other.id], self.first[seam.id])
        tack = self._task("tack", "tack", "Tack the facings down at the seam allowances, by hand, without stitching through.",
                          [p.id for p in facings])  # fmt: skip
        self._pair(neaten, tack)
        for seam in joins:
            self._pair(self.last[seam.id], tack)

    def _linings(self, begin: str) -> None:
        seams = self.making.seams.values()
        outside = [s for s in seams if self.making.layers_of(s) == {"outer"}]
        inside = [s for s in seams if self.making.layers_of(s) == {"lining"}]
        joins = [
            s
            for s in seams
            if "lining" in self.making.layers_of(s) and self.making.layers_of(s) != {"lining"}
        ]
        faced = [s for s in seams if self.making.layers_of(s) == {"facing", "outer"}]
        for join in joins:
            for seam in (*inside, *outside, *faced):
                self._pair(self.last[seam.id], self.first[join.id])
        lining = [p for p in self.making.pieces.values() if self.making.layer(p.id) == "lining"]
        if joins or not lining:
            return
        # no seam joins it: it is laid in and held by what is sewn round the edges that both have
        words = (
            "Lay the lining into the garment, wrong sides together, seams on seams, and tack the two together along the "
            "edges that both have. From here on they are one."
        )
        laid = self._task("line", "line", words, [p.id for p in lining])
        self._pair(begin, laid)
        for seam in (*inside, *outside):
            self._pair(self.last[seam.id], laid)
        for seam in faced:
            self._pair(laid, self.first[seam.id])

    def _doubled(self, begin: str) -> None:
        """A piece that is cut twice as often as it is sewn on is made of two layers first (a strap, a tab)."""
        for seam in self.making.seams.values():
            for part in seam.parts():
                piece = self.making.piece(part.piece)
                id_ = f"prepare:{piece.id}"
                twice = self.making.copies(part) == 2 * self.making.times(seam) and not seam.b_mirrored
                if not twice or self.making.layer(piece.id) != "outer" or piece.fold is not None:
                    continue
                if id_ not in self.tasks:
                    words = (
                        f"Sew the {piece.name} pieces together in twos, right sides together, leaving the end open that is sewn "
                        "on; trim, turn and press."
                    )
                    self._task("prepare", id_, words, [piece.id])
                    self._pair(begin, id_)
                self._pair(id_, self.first[seam.id])

    def _sewn_on(self, begin: str) -> None:
        """Pieces without a seam, and pieces said to be sewn on: made ready, then sewn on while all is flat."""
        if not self.making.seams and len(self.making.pieces) > 1:
            self.notes.append(
                "Nobody has said yet which edges are sewn together, so the sewing is missing here. Say it in the pattern."
            )
            return
        sewn = {
            self.making.piece(part.piece).id for seam in self.making.seams.values() for part in seam.parts()
        }
        for piece in self.making.pieces.values():
            target_id = self.facts.sewn_on.get(piece.id, self.facts.sewn_on.get(piece.name))
            if self.making.layer(piece.id) != "outer" or (piece.id in sewn and target_id is None):
                continue
            target: Piece | None = None if target_id is None else self._called(target_id)
            ready = self._task("prepare", f"prepare:{piece.id}", f"Make {piece.name} ready: hem its open edge, press the other "
                               "allowances to the wrong side.", [piece.id])  # fmt: skip
            where = f"onto {target.name}" if target is not None else "where it is marked"
            words = f"Sew {piece.name} {where}, close to its folded edges; secure both ends."
            pieces = [piece.id] if target is None else [piece.id, target.id]
            on = self._task("sew on", f"sew on:{piece.id}", words, pieces)
            self._chain(begin, ready, on)
            for seam in self.making.seams.values():
                ids = {self.making.piece(part.piece).id for part in seam.parts()}
                if piece.id in ids:
                    self._pair(self.last[seam.id], ready)
                elif target is not None and target.id in ids:
                    first = self.tasks[self.first[seam.id]]
                    if first.kind == "dart":
                        self._pair(first.id, on)
                    else:
                        self._pair(on, first.id)

    def _called(self, said: str) -> Piece:
        """The piece of that id or name. Raises :class:`NotFound`."""
        for piece in self.making.pieces.values():
            if piece.name == said:
                return piece
        return self.making.piece(said)

    def _hems(self, begin: str) -> list[str]:
        hems = []
        for layer in ("lining", "outer"):
            pieces = [
                p for p in self.making.pieces.values()
                if self.making.layer(p.id) == layer and p.id not in self.facts.sewn_on and p.name not in self.facts.sewn_on
                and any(e.kind == "hem" for e in p.edges) and f"sew on:{p.id}" not in self.tasks
            ]  # fmt: skip
            if not pieces:
                continue
            id_ = self._task("hem", f"hem:{layer}", hem_words(layer, pieces), [p.id for p in pieces])
            self._pair(begin, id_)
            for seam in self.making.seams.values():
                layers = self.making.layers_of(seam)
                if layer == "outer" or layers == {"lining"}:
                    self._pair(self.last[seam.id], id_)
            hems.append(id_)
        for a, b in pairwise(hems):
            self._pair(a, b)
        return hems

    def _end(self, begin: str, hems: list[str]) -> None:
        ids = list(self.tasks)
        last = self._task(
            "last press", "last press", "Press the whole garment, and pull out every pin and tacking thread."
        )
        for id_ in ids:
            self._pair(id_, last)
        marks = [m.kind for p in self.making.pieces.values() for m in p.marks]
        if self.facts.buttons or "button" in marks or "buttonhole" in marks:
            holes = self._task("buttonholes", "buttonholes", "Try a buttonhole on a scrap of the same layers, then work the "
                               "buttonholes and cut them open, a pin across each end.")  # fmt: skip
            buttons = self._task("buttons", "buttons", "Mark the buttons through the buttonholes and sew them on, with a thread "
                                 "shank as long as the cloth is thick.")  # fmt: skip
            self._chain(last, holes, buttons)

    # ---- sorting

    def _sorted(self) -> WorkOrder:
        numbers = {id_: number for number, id_ in enumerate(self.tasks)}

        def key(id_: str) -> tuple[float, ...]:
            task = self.tasks[id_]
            number = numbers[id_]
            if task.kind in _FOLLOW_UP:
                return (-1.0, float(number))
            stage = float(_STAGE[task.kind])
            if task.kind == "sew":
                stage = self.rings.stage(self.making.seams[SeamId(task.seams[0])])
            return (stage, float(number))

        def done(id_: str) -> None:
            task = self.tasks[id_]
            if task.kind == "sew":
                self.rings.sew(self.making.seams[SeamId(task.seams[0])])

        ids = self.before.sorted(key, done)
        return WorkOrder(tuple(self.tasks[id_] for id_ in ids), self.before.pairs(), tuple(self.notes))


def _near(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return abs(a[0] - b[0]) <= SAME_CORNER_MM and abs(a[1] - b[1]) <= SAME_CORNER_MM


def clips_of(making: Making, seam: Seam) -> tuple[tuple[int, int], tuple[int, int]]:
    """Clips along the inward curves of a seam, and wedges along the outward ones: (fewest, most) each."""
    curves = clipping(making, seam)
    return clip_count(curves.inward_mm), clip_count(curves.outward_mm)
