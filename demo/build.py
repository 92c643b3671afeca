"""The demo: the whole job from photographs to ledger, by the same actions that a maker uses.

Every step prints the sentence that Eke says of it. Nothing is prepared beyond ``demo/photographs`` and the words
of the maker in ``demo/photographs/photographs.json`` and below.
"""

from __future__ import annotations

import json
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from demo import garments, maker
from eke.actions import (
    cloths,
    fitting,
    found,
    history,
    laying,
    money,
    papers,
    patterns,
    photographs,
    projects,
    recipes,
    sheets,
)
from eke.actions.drawing import written
from eke.actions.photographs import Photograph
from eke.actions.room import Room, make_room
from eke.fit import run_length_mm
from eke.formats.html import journal_html
from eke.pattern.model import EdgePlace
from eke.units import Money

PHOTOGRAPHS = Path(__file__).parent / "photographs"
BUDGET = "12"
PINAFORE, APRON, PROJECT = "Pinafore", "Apron", "Summer sewing"
LAY_SECONDS = 6.0


@dataclass
class Made:
    """What the demo made: the room, and files with a title and a sentence each, in the order of the job."""

    room: Room
    out: Path
    files: list[tuple[str, str, str]] = field(default_factory=list)
    told: list[tuple[str, str]] = field(default_factory=list)
    drafts: dict[str, garments.DraftPiece] = field(default_factory=dict)
    """What the maker knows of each piece, by the piece's id."""
    chapter: str = ""

    def say(self, sentence: str) -> None:
        """Print what happened and keep it for the index."""
        print(f"  {sentence}", flush=True)
        self.told.append((self.chapter, sentence))

    def begin(self, chapter: str) -> None:
        """Begin a chapter of the job."""
        self.chapter = chapter
        print(chapter, flush=True)

    def keep(self, name: str, data: bytes, title: str) -> None:
        """Write a document and list it."""
        (self.out / name).write_bytes(data)
        self.files.append((self.chapter, name, title))


def build(out: Path) -> Made:
    """Build the whole demo under ``out`` (which is made anew) and return what it made."""
    started = time.perf_counter()
    made = Made(make_room(out / "workroom"), out)
    room = made.room
    made.begin("A project, and what it may cost")
    made.say(projects.start_project(room, PROJECT, budget=BUDGET, currency="EUR").sentence)
    facts = {
        "wearer_age_years": 9,
        "buttons": {"count": 2, "diameter_mm": 20, "thickness_mm": 4},
    }
    made.say(projects.enter_garment(room, PROJECT, PINAFORE, facts).sentence)
    made.say(projects.enter_garment(room, PROJECT, APRON).sentence)
    tracing_in(made)
    trueing(made)
    fitting_changes(made)
    deriving(made)
    cloth_in(made)
    cut_out(made)
    on_paper(made)
    settle_up(made)
    made.say(f"All of it took {time.perf_counter() - started:.0f} s.")
    return made


# ---------------------------------------------------------------- tracing


def _photographs(shows: str) -> list[dict[str, Any]]:
    listed = json.loads((PHOTOGRAPHS / "photographs.json").read_text(encoding="utf-8"))["photographs"]
    return [p for p in listed if p["shows"] == shows]


def _read(made: Made, said: dict[str, Any], subject: str, touches: list[dict[str, Any]]) -> Photograph:
    """Take a photograph in, say what lies in it, and trace it."""
    path = PHOTOGRAPHS / said["file"]
    cloth = said["shows"] == "cloth"
    taken = photographs.take_in_photograph(made.room, subject, path.read_bytes(), path.name, cloth=cloth)
    references = [
        {"kind": r["kind"], **({"check_line_mm": r["check_line_mm"]} if "check_line_mm" in r else {})}
        for r in said["references"]
    ]
    photographs.say_of_photograph(
        made.room, taken.id, references=references, square_paper=said.get("square_paper"), touches=touches
    )
    picture = found.trace_now(made.room, taken.id)
    assert picture.found is not None  # else it has been refused, and said so
    scale = picture.found["scale"]
    made.say(
        f"{path.name}: scale from {scale['reference']}, lengths certain to {scale['uncertainty_percent']:.2f} %."
    )
    for warning in picture.found["warnings"]:
        made.say(f"note: {warning}")
    return picture


def tracing_in(made: Made) -> None:
    """Photographs of tracings become pieces."""
    made.begin("Tracings become pieces")
    for said in _photographs("tracing"):
        entries = said["left_to_right"]
        garment = APRON if garments.piece(entries[0]["piece"]) in garments.apron() else PINAFORE
        touches = [{"x_px": x, "y_px": y, "side": "+"} for x, y in (e["tap_px"] for e in entries)]
        picture = _read(made, said, garment, touches)
        for entry in entries:
            _take(made, picture, entry, garment)


def _take(made: Made, picture: Photograph, entry: dict[str, Any], garment: str) -> None:
    draft = garments.piece(entry["piece"])
    pairs = draft.on_fold is None and draft.cut % 2 == 0
    done = found.take_piece(
        made.room,
        picture.id,
        maker.outline_at(picture, tuple(entry["tap_px"])),
        entry["name"],
        traced_as=entry["traced"],
        traced_allowance_mm=entry.get("allowance_mm", 0.0),
        count=draft.cut // 2 if pairs else draft.cut,
        pairs=pairs,
    )
    made.drafts[done.id] = draft
    made.say(done.sentence)
    maker.say_edges(made.room, garment, done.id, draft)


# ---------------------------------------------------------------- the pattern


def trueing(made: Made) -> None:
    """Straight edges, balance lines, seams proposed and said, walked and put right."""
    made.begin("The pattern is trued")
    room = made.room
    for garment in (PINAFORE, APRON):
        for piece in list(room.garment(garment).pattern.pieces.values()):
            draft = made.drafts[piece.id]
            for edge in piece.edges:
                straight = all(len(s) == 2 for s in draft.edge(edge.name.replace(" ", "_")).path)
                if straight and len(edge.path.segments) == 1 and edge.kind != "fold":
                    patterns.change(room, garment, "true.straighten", {"edge": edge.id, "called": edge.name})
            _waist(room, garment, piece.id, draft)
    made.say("Straight edges are straight, the waist is marked on every panel.")
    for proposal in patterns.proposed_seams(room, PINAFORE):
        one, other = patterns.proposal_words(room.garment(PINAFORE).pattern, proposal)
        made.say(f"proposed, {100 * proposal.confidence:.0f} % sure: {one} with {other}")
    for seam in garments.SEAMS:
        runs = [[_edge_word(room, part) for part in run] for run in (seam.a, seam.b)]
        made.say(patterns.say_seam(room, PINAFORE, seam.name, runs[0], runs[1]).sentence)
    for _ in range(12):
        differ = [f for f in patterns.findings(room, PINAFORE) if f.code == "seam-length" and f.fixes]
        if not differ:
            break
        made.say(f"found: {differ[0].sentence}")
        done = patterns.apply_fix(room, PINAFORE, differ[0].fixes[0])
        made.say(f"remedy: {done.sentence}")
    left = patterns.findings(room, PINAFORE)
    made.say(f"{len(left)} findings are left: {', '.join(sorted({f.code for f in left})) or 'none'}.")


def _waist(room: Room, garment: str, piece_id: str, draft: garments.DraftPiece) -> None:
    """Level lines across the pinafore's panels, drawn on the tracing, are the waist."""
    if draft.id not in ("front", "side_front", "side_back", "back"):
        return
    piece = room.garment(garment).pattern.piece(piece_id)
    lines = [m for m in piece.marks if m.kind == "line" and len(m.points) >= 2]
    level = [
        m
        for m in lines
        if abs(m.points[0][1] - m.points[-1][1]) < 0.1 * abs(m.points[0][0] - m.points[-1][0])
    ]
    if level:
        mark = max(level, key=lambda m: abs(m.points[0][0] - m.points[-1][0]))
        points, mark_id = [list(mark.points[0]), list(mark.points[-1])], mark.id
    else:
        # not seen on the tracing: the maker measures it up from the hem
        x0, y0, x1, _ = piece.outline.bounds
        points, mark_id = (
            [[x0, y0 + garments.WAIST_Y_MM], [x1, y0 + garments.WAIST_Y_MM]],
            f"{piece_id}-waist",
        )
    params = {
        "piece": piece_id,
        "kind": "balance",
        "name": "waist",
        "points": points,
        "id": mark_id,
        "called": "the waist",
    }
    patterns.change(room, garment, "mark.set", params)


def _edge_word(room: Room, word: str) -> str:
    sign, name = ("-", word[1:]) if word.startswith("-") else ("", word)
    piece_id, _, edge = name.partition(".")
    named = f"{piece_id.replace('_', ' ')}.{edge.replace('_', ' ')}"
    return f"{sign}{patterns.find_edge(room.garment(PINAFORE).pattern, named).id}"


def fitting_changes(made: Made) -> None:
    """What the mock-up showed, carried back to the pattern."""
    made.begin("The mock-up is fitted")
    room = made.room
    patterns.change(
        room,
        PINAFORE,
        "mockup.note",
        {"id": "mock-up-1", "number": 1, "noticed": "wide at the waist; the back neck stands off"},
    )
    pattern = room.garment(PINAFORE).pattern
    side = fitting.find_seam(pattern, "side")
    length = run_length_mm(pattern, pattern.seam(side).a)
    waist = garments.WAIST_Y_MM
    taken = fitting.take_in(
        room,
        PINAFORE,
        "side",
        [(0.0, 0.0), (waist, 10.0), (length, 0.0)],
        reason="Wide at the waist: 10 mm on each side",
    )
    made.say(taken.sentence)
    neck = patterns.find_edge(pattern, "back.neck")
    at = neck.path.length_mm * 0.45
    x, y = neck.path.point_at(at)
    nx, ny = neck.path.normal_at(at)
    dart = fitting.add_dart(
        room,
        PINAFORE,
        EdgePlace(neck.id, mm=at),
        6.0,
        (x + 70.0 * nx, y + 70.0 * ny),
        reason="The back neck stands off by 12 mm in all, 6 on each half",
    )
    made.say(dart.sentence)
    piece = patterns.find_piece(room.garment(PINAFORE).pattern, "back")
    strap = patterns.find_edge(room.garment(PINAFORE).pattern, "back.strap")
    moved = fitting.move_dart(
        room, PINAFORE, piece.darts[0].id, EdgePlace(strap.id, fraction=0.5), reason="Hidden under the strap"
    )
    made.say(moved.sentence)
    for done, name, title in (
        (taken, "ruler-steps-side.pdf", "Ruler steps: taking in the side"),
        (dart, "ruler-steps-dart.pdf", "Ruler steps: the dart"),
    ):
        pages = sheets.ruler_step_pages(room, PINAFORE, done.id, unit="cm")
        made.keep(name, written(pages, ".pdf", title=title), title)
    # the maker thinks again, and again
    made.say(history.take_back(room, PINAFORE).sentence)
    made.say(history.do_again(room, PINAFORE).sentence)


def deriving(made: Made) -> None:
    """Facings and a lining that follow."""
    made.begin("Facings and lining follow the pattern")
    room = made.room
    for name, edges in (
        ("neck facing front", ["front.neck"]),
        ("neck facing back", ["back.neck"]),
        ("armhole facing front", ["side front.armhole"]),
        ("armhole facing back", ["side back.armhole"]),
    ):
        made.say(
            recipes.add_recipe(
                room, PINAFORE, "facing", name, edges=edges, params={"width_mm": 45.0}
            ).sentence
        )
    panels = ["front", "side front", "side back", "back"]
    made.say(
        recipes.add_recipe(room, PINAFORE, "lining", "lining", pieces=panels, params={"to": "waist"}).sentence
    )
    state = room.garment(PINAFORE)
    for finding in state.derivation.findings:
        made.say(f"note: {finding.sentence}")
    made.say(f"{len(state.pattern.pieces)} pieces drawn, {len(state.derivation.pieces)} derived.")


# ---------------------------------------------------------------- cloth and the lay


def cloth_in(made: Made) -> None:
    """Cloth from photographs; kept for the project; bought."""
    made.begin("Cloth comes to the shelf")
    room = made.room
    for said in _photographs("cloth"):
        facts = said["cloth"]
        touches = [
            {"x_px": t["touch_px"][0], "y_px": t["touch_px"][1], "side": t["side"]} for t in said["touches"]
        ]
        picture = _read(made, said, "shelf", touches)
        seen = (picture.found or {})["cloths"][0]
        words: dict[str, Any] = {
            "weight_gsm": float(facts["weight_gsm"]),
            "washed": facts["washed"],
            "same_face": facts["both_faces_alike"],
            "nap": "one-way" if facts["nap"] else "none",
            "origin": facts["origin"],
        }
        if seen["grain_deg"] is None or facts["warp"] == "up":
            # the maker says that the warp runs up the picture; the threads that were seen make it exact
            words["grain_deg"] = _warp_up(seen["grain_deg"])
        done = found.take_cloth(room, picture.id, seen["name"], facts["name"], said=words)
        made.say(
            f"{done.sentence} {len(seen['holes'])} holes, {len(seen['flaws'])} stains proposed, "
            f"outline within {seen['uncertainty_mm']:.1f} mm."
        )
        made.say(cloths.reserve_cloth(room, facts["name"], PROJECT).sentence)
    for what, amount, shared in (
        ("two curtains at a flea market", "5.00", {"curtain one": "1", "curtain two": "1"}),
        ("buttons and thread", "2.40", {}),
    ):
        done = money.buy(room, what, Money.parse(amount, "EUR"), projects={PROJECT: "1"}, cloths=shared)
        made.say(done.sentence)


def _warp_up(seen_deg: float | None) -> float:
    if seen_deg is None:
        return 90.0
    candidates = [seen_deg % 180.0, (seen_deg + 90.0) % 180.0]
    return min(candidates, key=lambda a: abs(a - 90.0))


def cut_out(made: Made) -> None:
    """Lay pinafore, lining and apron one after the other on the same cloths; confirm each cut that fits."""
    made.begin("Does it fit?")
    room = made.room
    for garment, roles, chosen in (
        (PINAFORE, ["outer"], ["curtain one", "curtain two"]),
        (PINAFORE, ["lining"], None),
        (APRON, ["outer"], None),
    ):
        plan = laying.lay_garment(room, garment, roles=roles, cloths=chosen, seconds=LAY_SECONDS, seed=1)  # type: ignore[arg-type]
        made.say(f"{garment}, {roles[0]}: {plan.sentence}")
        name = f"lay-{garment.lower()}-{roles[0]}"
        pages = papers.lay_pages(room, garment, roles=roles)  # type: ignore[arg-type]
        made.keep(f"{name}.pdf", written(pages, ".pdf", title=name), f"Lay plan: {garment}, {roles[0]}")
        made.keep(f"{name}.svg", written(pages, ".svg", title=name), "The first cloth as a drawing")
        made.keep(f"{name}.png", written(pages, ".png", title=name), "The first cloth as a picture")
        if plan.complete:
            made.say(laying.confirm_cut(room, garment, roles).sentence)  # type: ignore[arg-type]
            _keep_offcuts(made)
            continue
        for way in laying.ways_to_save(room, garment, roles)[:4]:  # type: ignore[arg-type]
            made.say(f"could be given up: {way.sentence}")
    made.say(f"The shelf now holds {len(room.shelf().cloths)} cloths and offcuts.")


def _keep_offcuts(made: Made) -> None:
    """What a cut left over is kept for the same project: the apron comes out of it."""
    shelf = made.room.shelf()
    for cloth in shelf.cloths.values():
        if cloth.parent is not None and not shelf.reserved_by(cloth.id):
            made.say(cloths.reserve_cloth(made.room, cloth.id, PROJECT).sentence)


# ---------------------------------------------------------------- paper and money


def on_paper(made: Made) -> None:
    """Everything that is printed."""
    made.begin("On paper")
    room = made.room
    for garment in (PINAFORE, APRON):
        low = garment.lower()
        for paper in ("a4", "letter"):
            pages = papers.pattern_pages(room, garment, paper)
            made.keep(
                f"pattern-{low}-{paper}.pdf",
                written(pages, ".pdf", title=garment),
                f"{garment}: pattern on {paper}",
            )
        whole = papers.whole_pattern_page(room, garment)
        made.keep(
            f"pattern-{low}-whole.pdf",
            written([whole], ".pdf", title=garment),
            f"{garment}: pattern on one sheet",
        )
        made.keep(
            f"cutting-list-{low}.pdf",
            written(sheets.cutting_pages(room, garment), ".pdf", title="Cutting list"),
            f"{garment}: cutting list and notions",
        )
        made.keep(
            f"order-{low}.pdf",
            written(sheets.order_pages(room, garment), ".pdf", title="Order of work"),
            f"{garment}: order of work, with cautions",
        )
    sheet, _ = papers.reference_sheet_pdf("a4", 0)
    made.keep("reference-sheet.pdf", sheet, "Eke's own reference sheet")
    made.say(f"{len(made.files)} documents are written.")


def settle_up(made: Made) -> None:
    """The ledger and the journal; taking the last cut back and doing it again."""
    made.begin("What it cost, and what is left")
    room = made.room
    made.say(history.take_back(room).sentence)
    made.say(history.do_again(room).sentence)
    report = money.ledger_report(room, PROJECT)
    made.say(f"Spent {report.account.spent} of {report.account.budget}; {report.account.left} left.")
    for one in report.garments:
        made.say(f"{one.name} used {one.used}.")
    made.keep("ledger.pdf", written(sheets.ledger_pages(room, PROJECT), ".pdf", title="Ledger"), "Ledger")
    pages, pictures = sheets.journal_pages(room, PROJECT)
    made.keep("journal.pdf", written(pages, ".pdf", title="Journal", pictures=pictures), "Journal, one page")
    journal, pictures = sheets.journal_of(room, PROJECT)
    made.keep("journal.html", journal_html(journal, pictures=pictures).encode(), "Journal for the browser")
    backup = projects.backup(room, made.out / "workroom-backup.zip")
    made.say(f"The whole workroom is in workroom-backup.zip ({backup.photos} photographs).")
