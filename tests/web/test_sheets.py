"""Paper, making up, ledger and journal through the server."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

import pypdfium2
import pytest
from starlette.testclient import TestClient

from eke.actions import cloths, fitting, laying, patterns, printing
from eke.actions.room import Room
from helpers import pictures, tunic


@pytest.fixture
def garment(sewn: Room) -> str:
    return sewn.garment(tunic.TUNIC).id


@pytest.fixture
def project(sewn: Room) -> str:
    return next(iter(sewn.shelf().projects))


def laid(room: Room) -> None:
    cloths.add_cloth(
        room, "blue", cloths.typed_outline("rectangle", [1000, 700]), grain_deg=90.0, washed=True
    )
    cloths.reserve_cloth(room, "blue", tunic.PROJECT)
    laying.lay_garment(room, tunic.TUNIC, roles=["outer"], seconds=None, passes=3, seed=1)


def sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Return the sizes of the pages of a PDF in mm, as another program reads them."""
    document = pypdfium2.PdfDocument(pdf)
    return [tuple(round(v * 25.4 / 72, 1) for v in page.get_size()) for page in document]  # type: ignore[misc]


# ---------------------------------------------------------------- paper


def test_what_can_be_printed_and_why_not_yet(client: TestClient, room: Room, garment: str) -> None:
    kinds = {k["word"]: k for k in client.get(f"/api/garments/{garment}/paper").json()}
    assert list(kinds) == ["pattern", "whole", "lay", "cutting", "order", "sheet"]
    assert {w for w, k in kinds.items() if k["ready"]} == {"pattern", "whole", "cutting", "order", "sheet"}
    assert kinds["lay"]["sentence"] == "Nothing has been laid on cloth yet. Lay the pieces first."
    laid(room)
    assert all(k["ready"] for k in client.get(f"/api/garments/{garment}/paper").json())
    fitting.take_in(room, tunic.TUNIC, "side", [(0, 0), (150, 8), (350, 0)])
    lay = client.get(f"/api/garments/{garment}/paper").json()[2]
    assert (lay["ready"], "pieces have changed" in lay["sentence"]) == (False, True)


def test_an_empty_garment_says_what_to_do(client: TestClient, room: Room, project: str) -> None:
    from eke.actions import projects

    empty = projects.enter_garment(room, project, "Skirt").id
    kinds = {k["word"]: k for k in client.get(f"/api/garments/{empty}/paper").json()}
    assert [w for w, k in kinds.items() if k["ready"]] == ["sheet"]
    assert kinds["pattern"]["sentence"] == "“Skirt” has no piece yet. Trace one first."
    for what in ("pattern", "whole", "lay"):
        answer = client.get(f"/api/garments/{empty}/paper/{what}")
        assert (answer.status_code, answer.json()["code"]) == (400, "bad-input")


@pytest.mark.parametrize("what", ["pattern", "whole", "lay", "cutting", "order", "sheet"])
def test_pages_on_the_screen_are_the_pages_of_the_file(
    client: TestClient, room: Room, garment: str, what: str
) -> None:
    laid(room)
    view = client.get(f"/api/garments/{garment}/paper/{what}?paper=letter&unit=inch").json()
    answer = client.get(view["pdf"])
    assert answer.headers["content-type"] == "application/pdf"
    printed = sizes(answer.content)
    assert len(printed) == len(view["pages"]) > 0
    for page, size in zip(view["pages"], printed, strict=True):
        assert size == pytest.approx((page["width_mm"], page["height_mm"]), abs=0.2)
        root = ElementTree.fromstring(page["svg"])
        assert root.attrib["width"] == f"{page['width_mm']:g}mm"
        # nothing is fetched: what is linked lies within the drawing, and there are no scripts or styles
        assert not re.findall(r'(?:href|src)="(?!data:image/|#)', page["svg"])
        assert not re.findall(r"url\((?!#)", page["svg"])
        assert {e.tag.rpartition("}")[2] for e in root.iter()} <= {"svg", "title", "defs", "clipPath", "path", "g", "text", "image", "rect"}  # fmt: skip
    ids = re.findall(r' id="([^"]+)"', "".join(p["svg"] for p in view["pages"]))
    assert len(ids) == len(set(ids))


def test_a_name_is_written_and_never_markup_or_a_path(client: TestClient, room: Room, garment: str) -> None:
    patterns.change(room, tunic.TUNIC, "piece.rename", {"piece": "front", "name": "<script>x</script>"})
    view = client.get(f"/api/garments/{garment}/paper/whole").json()
    assert "<script" not in view["pages"][0]["svg"]
    name = client.get(view["pdf"]).headers["content-disposition"]
    assert name == "inline; filename=\"Tunic-pattern-whole.pdf\"; filename*=UTF-8''Tunic-pattern-whole.pdf"


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Tunic pattern", "Tunic-pattern.pdf"),
        ("../../etc/passwd", "etc-passwd.pdf"),
        ('a"; filename=evil.exe\r\nX: y', "a-filename-evil-exe-X-y.pdf"),
        ("Größe “40”", "Größe-40.pdf"),
        ("…/…", "eke.pdf"),
        ("n" * 300, "n" * 80 + ".pdf"),
    ],
)
def test_names_of_files(title: str, name: str) -> None:
    assert printing.file_name(title) == name


def test_a_piece_alone(client: TestClient, garment: str) -> None:
    every = client.get(f"/api/garments/{garment}/paper/pattern").json()["pages"]
    one = client.get(f"/api/garments/{garment}/paper/pattern?pieces=front").json()["pages"]
    both = client.get(f"/api/garments/{garment}/paper/pattern?pieces=front&pieces=back").json()["pages"]
    assert len(one) < len(every)
    assert [p["svg"] for p in both] == [p["svg"] for p in every]
    assert client.get(f"/api/garments/{garment}/paper/pattern?pieces=nobody").status_code == 404


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("pattern?paper=papyrus", 404),
        ("pattern?unit=furlong", 400),
        ("lay?roles=velvet", 400),
        ("sheet?number=900", 400),
        ("nonsense", 404),
        ("..%2f..%2fshelf", 404),
    ],
)
def test_what_is_not_there_to_print(client: TestClient, garment: str, path: str, status: int) -> None:
    for ending in ("", ".pdf"):
        word, _, query = path.partition("?")
        assert client.get(f"/api/garments/{garment}/paper/{word}{ending}?{query}").status_code == status


def test_ruler_steps_of_a_fit_change(client: TestClient, room: Room, garment: str) -> None:
    done = fitting.take_in(room, tunic.TUNIC, "side", [(0, 0), (150, 8), (350, 0)], reason="too wide")
    view = client.get(f"/api/garments/{garment}/paper/ruler/{done.id}?unit=inch").json()
    assert "5/16 in" in "".join(p["svg"] for p in view["pages"])  # 8 mm, to the nearest sixteenth of an inch
    assert len(sizes(client.get(view["pdf"]).content)) == len(view["pages"])
    assert client.get(f"/api/garments/{garment}/paper/ruler/nobody").status_code == 404


def test_the_reference_sheet(client: TestClient) -> None:
    a4 = client.get("/api/reference-sheet.pdf")
    assert sizes(a4.content) == [(297.0, 210.0)]
    assert sizes(client.get("/api/reference-sheet.pdf?paper=letter&number=3").content) == [(279.4, 215.9)]
    assert client.get("/api/reference-sheet.pdf?paper=a3").status_code == 400


# ---------------------------------------------------------------- making up


def test_making_up_with_ticks(client: TestClient, room: Room, garment: str) -> None:
    laid(room)
    view = client.get(f"/api/garments/{garment}/making").json()
    assert [(c["name"], c["cloth"], c["cut"]) for c in view["cutting"]] == [
        ("front", "blue", "cut 1"),
        ("back", "blue", "cut 1"),
    ]
    assert not any(t["done"] for t in view["tasks"])
    one = view["tasks"][3]
    ticked = client.put(f"/api/garments/{garment}/ticks/{one['id']}", json={"done": True}).json()
    assert [t["id"] for t in ticked["tasks"] if t["done"]] == [one["id"]]
    assert client.get(f"/api/garments/{garment}/making").json() == ticked
    again = client.put(f"/api/garments/{garment}/ticks/{one['id']}", json={"done": False}).json()
    assert again == view
    assert client.put(f"/api/garments/{garment}/ticks/nobody", json={"done": True}).status_code == 404


def test_what_endangers_a_child_is_a_warning(client: TestClient, room: Room, garment: str) -> None:
    room.change_garment(tunic.TUNIC, "fact.set", {"name": "wearer_age_years", "value": 2})
    room.change_garment(
        tunic.TUNIC,
        "fact.set",
        {"name": "buttons", "value": {"count": 2, "diameter_mm": 12, "thickness_mm": 3}},
    )
    cautions = client.get(f"/api/garments/{garment}/making").json()["cautions"]
    warnings = [c["sentence"] for c in cautions if c["weight"] == "warning"]
    assert any("choke" in w for w in warnings)
    assert any("cord" in w for w in warnings)
    assert any(c["weight"] == "note" and "rotary cutter" in c["sentence"] for c in cautions)
    assert all(c["source"] for c in cautions)


def test_what_was_given_up_is_on_the_cutting_list(client: TestClient, room: Room, garment: str) -> None:
    laid(room)
    from eke.actions import lays

    way = next(w for w in lays.ways_out(room, tunic.TUNIC, ["outer"]) if w.kind == "second cloth")
    laying.lay_garment(room, tunic.TUNIC, roles=["outer"], seconds=None, passes=2, stints=[way.id])
    view = client.get(f"/api/garments/{garment}/making").json()
    assert sorted(c["cloth"] for c in view["cutting"]) == ["another cloth", "blue"]
    assert way.sentence in view["notes"]


# ---------------------------------------------------------------- money


def test_a_ledger_from_nothing(client: TestClient, room: Room) -> None:
    from eke.actions import projects

    bare = projects.start_project(room, "Bare").id
    view = client.get(f"/api/projects/{bare}/ledger").json()
    assert (view["budget"], view["spent"], view["left"], view["over"], view["share_spent"]) == (
        None,
        "0.00 EUR",
        None,
        False,
        None,
    )
    assert client.get(f"/api/projects/{bare}/paper/ledger").status_code == 200
    assert client.get("/api/projects/nobody/ledger").status_code == 404


def test_a_budget_is_told_by_the_name_of_its_project(client: TestClient) -> None:
    begun = client.post("/api/projects", json={"name": "Autumn"}).json()["id"]
    client.post(f"/api/projects/{begun}/budget", json={"amount": "35.50", "currency": "GBP"})
    assert client.get("/api/shelf").json()["steps"]["undo"] == "Set the budget of “Autumn” to 35.50 GBP"


def test_a_project_begun_with_a_budget_is_one_step(client: TestClient) -> None:
    client.post("/api/projects", json={"name": "Autumn", "budget": "35.50", "currency": "GBP"})
    steps = client.get("/api/shelf").json()["steps"]
    assert steps["undo"] == "Began the project “Autumn” with a budget of 35.50 GBP"
    client.post("/api/workroom/undo", json={"expected": None})
    assert client.get("/api/workroom").json()["projects"] == []


def test_budget_purchases_and_what_is_left(client: TestClient, project: str) -> None:
    client.post(f"/api/projects/{project}/budget", json={"amount": "10"})
    bought = {"what": "cloth", "amount": "2,40", "on": "2026-03-14"}
    assert client.post(f"/api/projects/{project}/purchases", json=bought).status_code == 200
    krona = {"what": "buttons", "amount": "100", "currency": "SEK", "rate": "0.087"}
    client.post(f"/api/projects/{project}/purchases", json=krona)
    client.post(
        f"/api/projects/{project}/purchases", json={"what": "tape", "amount": "50", "currency": "SEK"}
    )
    view = client.get(f"/api/projects/{project}/ledger").json()
    # 2.40 + 100 × 0.087 = 11.10
    assert (view["budget"], view["spent"], view["left"], view["over"]) == (
        "10.00 EUR",
        "11.10 EUR",
        "-1.10 EUR",
        True,
    )
    assert view["share_spent"] == pytest.approx(1.11)
    assert view["without_rate"] == ["tape"]
    assert [(p["what"], p["paid"], p["on"]) for p in view["purchases"]] == [
        ("cloth", "2.40 EUR", "2026-03-14"),
        ("buttons", "100.00 SEK", None),
        ("tape", "50.00 SEK", None),
    ]
    assert view["purchases"][1]["shared"] == "1 SEK = 0.087 EUR"
    pages = client.get(f"/api/projects/{project}/paper/ledger").json()
    assert "tape" in pages["pages"][0]["svg"]


@pytest.mark.parametrize(
    "wrong",
    [
        {"amount": "two"},
        {"amount": "-3"},
        {"currency": "XXX"},
        {"on": "14.3.2026"},
        {"projects": {"nobody": "1"}},
        {"cloths": {"nobody": "1"}},
        {"rate": "0"},
    ],
)
def test_a_purchase_that_cannot_be(client: TestClient, project: str, wrong: dict[str, Any]) -> None:
    said = {"what": "cloth", "amount": "2.40", "currency": "EUR"} | wrong
    answer = client.post(f"/api/projects/{project}/purchases", json=said)
    assert answer.status_code in (400, 404, 409)
    assert client.get(f"/api/projects/{project}/ledger").json()["purchases"] == []


def test_notions_are_used_up(client: TestClient, project: str, garment: str) -> None:
    id_ = client.post("/api/notions", json={"name": "buttons", "amount": "6", "price": "3"}).json()["id"]
    assert client.post(f"/api/notions/{id_}/use", json={"amount": "2", "garment": garment}).status_code == 200
    view = client.get(f"/api/projects/{project}/ledger").json()
    assert [(n["name"], n["amount"], n["price"]) for n in view["notions"]] == [("buttons", "4", "3.00 EUR")]
    assert [g["used"] for g in view["garments"]] == ["1.00 EUR"]
    assert client.post(f"/api/notions/{id_}/use", json={"amount": "9", "garment": garment}).status_code == 400


# ---------------------------------------------------------------- journal


def test_the_journal_tells_the_story(client: TestClient, room: Room, project: str, garment: str) -> None:
    from eke.actions import photographs

    one = photographs.take_in_photograph(room, garment, pictures.plain_jpeg(), "front.jpg")
    laid(room)
    fitting.take_in(room, tunic.TUNIC, "side", [(0, 0), (150, 8), (350, 0)], reason="too wide")
    view = client.get(f"/api/projects/{project}/journal").json()
    assert (view["title"], view["subtitle"], view["pictures"]) == ("Summer", "Tunic", [])
    assert any("too wide" in c for c in view["changes"])
    assert view["left"] == []  # the plan no longer holds
    assert any(c.startswith("blue") for c in view["cloths"])
    cloths.describe_cloth(room, "blue", photos=[one.photo])
    view = client.get(f"/api/projects/{project}/journal").json()
    assert view["pictures"] == [{"photo": one.photo, "caption": "blue"}]
    pages = client.get(f"/api/projects/{project}/paper/journal").json()
    assert "data:image/jpeg;base64," in pages["pages"][0]["svg"]
    assert sizes(client.get(pages["pdf"]).content) == [(210.0, 297.0)]
