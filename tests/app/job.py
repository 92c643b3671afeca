"""The main job, from nothing to the cut, as steps that a sewist does. Each says how one sees that it is kept."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import expect

from app.sewist import LONG_MS, Sewist

PHOTOGRAPHS = Path(__file__).parents[2] / "demo" / "photographs"
TRACING = PHOTOGRAPHS / "02-sides-taped-a4.jpg"
MORE = PHOTOGRAPHS / "04-pocket-strap-pins-card.jpg"
CLOTH = PHOTOGRAPHS / "07-curtain-cut-a4.jpg"
NOTED = "It is wide at the waist."
REASON = "wide at the waist"


@dataclass(frozen=True)
class Step:
    """``do`` ends when its answer is on the screen; ``kept`` looks for it after the page was loaded anew."""

    name: str
    do: Callable[[Sewist], None]
    kept: Callable[[Sewist], None]


def state_of(sewist: Sewist) -> dict[str, Any]:
    """Return everything that the workroom knows, without what counts the changes."""
    room = sewist.told_by("workroom")
    told: dict[str, Any] = {
        "workroom": without_revision(room),
        "shelf": without_revision(sewist.told_by("shelf")),
    }
    told["shelf photographs"] = sewist.told_by("subjects/shelf/photographs")
    for project in room["projects"]:
        told[f"ledger {project['id']}"] = sewist.told_by(f"projects/{project['id']}/ledger")
        for garment in project["garments"]:
            told |= garment_of(sewist, garment["id"])
    return told


def garment_of(sewist: Sewist, garment: str) -> dict[str, Any]:
    """Return everything that is known of a garment."""
    return {
        f"garment {garment}": without_revision(sewist.told_by(f"garments/{garment}")),
        f"photographs {garment}": sewist.told_by(f"subjects/{garment}/photographs"),
        f"lay {garment}": sewist.told_by(f"garments/{garment}/lay?roles=outer"),
        f"making {garment}": sewist.told_by(f"garments/{garment}/making"),
    }


def without_revision(told: dict[str, Any]) -> dict[str, Any]:
    """Leave out the numbers that count changes: taking a step back is a change too."""
    return {key: value for key, value in told.items() if key not in ("revision", "head", "steps")}


def garment_id(sewist: Sewist) -> str:
    """Return the id of the one garment."""
    found: str = sewist.told_by("workroom")["projects"][0]["garments"][0]["id"]
    return found


# ---- all garments


def begin(s: Sewist) -> None:
    s.writes("Name of the project", "Summer")
    s.writes("It may cost in all", "25")
    s.press("Begin")
    expect(s.page.get_by_role("heading", name="Summer")).to_be_visible()


def begun(s: Sewist) -> None:
    expect(s.page.get_by_role("heading", name="Summer")).to_be_visible()
    s.sees("25.00 EUR left of 25.00 EUR")


def add_garment(s: Sewist) -> None:
    if s.page.get_by_role("button", name="Add a garment").count():
        s.press("Add a garment")
    s.writes("Name of the garment", "Pinafore")
    s.press("Add")
    s.sees("Photograph a tracing")


def garment_added(s: Sewist) -> None:
    expect(s.page.get_by_role("button", name="Give Pinafore another name")).to_be_visible()
    s.sees("Photograph a tracing")


# ---- tracing


def upload(s: Sewist) -> None:
    s.takes_in("Choose photographs", [TRACING, MORE])
    expect(prints(s)).to_have_count(2)


def prints(s: Sewist) -> Any:
    return s.page.get_by_role("navigation", name="Photographs").get_by_role("button", name="traced")


def uploaded(s: Sewist) -> None:
    expect(prints(s)).to_have_count(2)


def say_reference(s: Sewist) -> None:
    s.chooses("a sheet of A4")
    s.ticks("The paper has square corners")


def reference_said(s: Sewist) -> None:
    expect(s.page.get_by_role("radio", name="a sheet of A4")).to_be_checked()
    expect(s.page.get_by_role("checkbox", name="The paper has square corners")).to_be_checked()


def trace(s: Sewist) -> None:
    s.page.get_by_role("button", name="Trace it", exact=True).click()
    expect(s.page.get_by_role("progressbar").first).to_be_visible()
    expect(outlines(s)).to_have_count(2, timeout=LONG_MS)
    s.settled()


def outlines(s: Sewist) -> Any:
    return s.part("What was found").get_by_role("button")


def traced(s: Sewist) -> None:
    expect(outlines(s)).to_have_count(2)
    s.sees("The scale comes from")


def look_at(s: Sewist, photograph: Path) -> None:
    """Lay a photograph on the table."""
    s.page.get_by_role("navigation", name="Photographs").get_by_role("button", name=photograph.stem).click()
    s.settled()


def take_piece(number: int, name: str) -> Callable[[Sewist], None]:
    def take(s: Sewist) -> None:
        look_at(s, TRACING)
        outlines(s).nth(number - 1).click()
        s.writes("Name of the piece", name)
        s.chooses("a pair, left and right")
        s.press("Put it into the pattern")
        s.sees(f"“{name}” in")

    return take


def piece_taken(number: int, name: str) -> Callable[[Sewist], None]:
    def taken(s: Sewist) -> None:
        look_at(s, TRACING)
        expect(outlines(s).nth(number - 1)).to_contain_text(name)

    return taken


# ---- pattern


def say_seams(s: Sewist) -> None:
    """Say yes to the long pair of edges, and no to hems and armholes, which lie side by side only."""
    s.peg("Pattern")
    question = s.part("A question about seams")
    s.press("Look at them", question)
    for _ in range(12):
        if not question.get_by_role("button", name="Yes, they are").count():
            break
        asked = question.inner_text()
        s.press(
            "Yes, they are" if re.search(r"(46\.[89]|51\.[89]) cm long", asked) else "Not these", question
        )


def seams_said(s: Sewist) -> None:
    assert s.told_by(f"garments/{garment_id(s)}")["seams"]


def sew_by_hand(s: Sewist) -> None:
    """Say the other long pair, where nobody asked about it."""
    garment = s.told_by(f"garments/{garment_id(s)}")
    loose = [
        max((e for e in piece["edges"] if not e["seams"]), key=lambda e: e["length_mm"])["id"]
        for piece in garment["pieces"]
    ]
    if len(garment["seams"]) < 2:
        s.touch_edge(loose[0])
        s.press("Sew it to …")
        s.touch_edge(loose[1])
        s.press("Sew these together")


def sewn_by_hand(s: Sewist) -> None:
    assert len(s.told_by(f"garments/{garment_id(s)}")["seams"]) == 2
    s.sees("2 seams")


def findings(s: Sewist) -> Any:
    return s.part("What wants a look")


def without_mate(s: Sewist) -> int:
    """Return how many notches have no mate."""
    found = s.told_by(f"garments/{garment_id(s)}")["findings"]
    return sum("has no mate" in one["sentence"] for one in found)


def remedy(s: Sewist) -> None:
    """Go to a notch that has no mate, and give it one."""
    assert without_mate(s) == 3
    findings(s).get_by_role("button", name="has no mate").first.click()
    s.press("Set its mate on the other side", findings(s))
    s.reads("mate of a notch")


def remedied(s: Sewist) -> None:
    assert without_mate(s) == 2


# ---- mock-ups


def note(s: Sewist) -> None:
    s.peg("Mock-ups")
    s.writes("Mock-up 1", NOTED)
    s.press("Note it")
    expect(s.page.get_by_role("textbox", name="What mock-up 1 showed")).to_have_value(NOTED)


def noted(s: Sewist) -> None:
    expect(s.page.get_by_role("textbox", name="What mock-up 1 showed")).to_have_value(NOTED)


def take_in(s: Sewist) -> None:
    s.part("Change the fit").get_by_role("button").first.click()
    plan = s.part("The change")
    s.writes("Amount at place 2", "0.6", plan)
    s.writes("Why", REASON, plan)
    s.settled()
    s.press("Make this change", plan)
    expect(steps(s)).to_have_count(1)


def steps(s: Sewist) -> Any:
    return s.part("Steps so far").get_by_role("button", name="Took in")


def taken_in(s: Sewist) -> None:
    expect(steps(s)).to_have_count(1)


# ---- cloth


def photograph_cloth(s: Sewist) -> None:
    s.peg("Cloth")
    s.takes_in("From a photograph", [CLOTH])
    s.chooses("a sheet of A4")
    s.page.get_by_role("button", name="Find the cloth", exact=True).click()
    s.sees("A cloth of", timeout=LONG_MS)
    s.settled()


def cloth_photographed(s: Sewist) -> None:
    s.sees("07-curtain-cut-a4")
    s.page.get_by_role("button", name="07-curtain-cut-a4").click()
    s.sees("A cloth of")


def take_cloth(s: Sewist) -> None:
    s.writes("Name of the cloth", "curtain")
    s.press("Put it on the shelf")
    s.reads("“curtain” on the shelf")


def open_cloth(s: Sewist, name: str) -> None:
    if s.page.get_by_role("textbox", name="Name of the cloth").count():
        return
    s.part("What is known of it").get_by_role("button", name=name).click()
    s.settled()


def cloth_taken(s: Sewist) -> None:
    open_cloth(s, "curtain")
    expect(s.page.get_by_role("textbox", name="Name of the cloth")).to_have_value("curtain")
    expect(s.page.get_by_role("checkbox", name="Summer")).to_be_checked()


def describe_cloth(s: Sewist) -> None:
    s.writes("Direction", "90")
    s.settled()
    s.ticks("Both faces look alike")
    s.press("It has been washed now")
    s.sees("It has been washed.")


def cloth_described(s: Sewist) -> None:
    open_cloth(s, "curtain")
    expect(s.page.get_by_role("textbox", name="Direction")).to_have_value("90")
    expect(s.page.get_by_role("checkbox", name="Summer")).to_be_checked()
    s.sees("It has been washed.")


def type_cloth(s: Sewist) -> None:
    if s.page.get_by_role("button", name="Back to the shelf").count():
        s.press("← Back to the shelf")
    s.press("Type its measures")
    s.writes("Name of the cloth", "remnant")
    s.writes("a · width", "80")
    s.writes("b · length", "130")
    s.press("Put it on the shelf")
    s.press("↑ up")
    s.ticks("Both faces look alike")


def cloth_typed(s: Sewist) -> None:
    open_cloth(s, "remnant")
    s.sees("80 cm × 130 cm")
    expect(s.page.get_by_role("checkbox", name="Summer")).to_be_checked()


# ---- lay, making up, money


def lay(s: Sewist) -> None:
    s.peg("Lay")
    s.page.get_by_role("combobox", name="Look for").select_option(label="5 seconds")
    s.page.get_by_role("button", name="Lay it", exact=True).first.click()
    expect(s.page.get_by_role("button", name="Stop and keep it")).to_be_visible()
    expect(s.page.get_by_role("button", name="I have cut it")).to_be_visible(timeout=LONG_MS)
    s.settled()


def laid(s: Sewist) -> None:
    expect(s.page.get_by_role("button", name="I have cut it")).to_be_visible()
    assert len(s.told_by(f"garments/{garment_id(s)}/lay?roles=outer")["laid"]) == 4


def tick(s: Sewist) -> None:
    s.peg("Making up")
    s.page.get_by_role("checkbox", name="Next").click()
    s.settled()
    s.sees("1 of ")


def ticked(s: Sewist) -> None:
    s.sees("1 of ")


def buy(s: Sewist) -> None:
    s.peg("Ledger")
    s.press("Write down a purchase")
    form = s.part("Write down a purchase")
    s.writes("What was bought", "a curtain from the flea market", form)
    s.writes("Paid", "5,50", form)
    s.ticks("curtain", form)
    s.press("Write it down", form)
    s.sees("19.50 EUR of 25.00 EUR is left.")


def bought(s: Sewist) -> None:
    s.sees("19.50 EUR of 25.00 EUR is left.")
    s.sees("a curtain from the flea market")


def cut(s: Sewist) -> None:
    s.peg("Lay")
    s.press("I have cut it")
    s.sees("This has been cut.")


def was_cut(s: Sewist) -> None:
    s.sees("This has been cut.")


JOB = (
    Step("begin a project with a budget", begin, begun),
    Step("add a garment", add_garment, garment_added),
    Step("upload photographs", upload, uploaded),
    Step("say what lies beside the paper", say_reference, reference_said),
    Step("trace", trace, traced),
    Step("take the side front", take_piece(1, "side front"), piece_taken(1, "side front")),
    Step("take the side back", take_piece(2, "side back"), piece_taken(2, "side back")),
    Step("say the seams", say_seams, seams_said),
    Step("say a seam by hand", sew_by_hand, sewn_by_hand),
    Step("apply a remedy", remedy, remedied),
    Step("note a mock-up", note, noted),
    Step("change the fit", take_in, taken_in),
    Step("photograph a cloth", photograph_cloth, cloth_photographed),
    Step("put it on the shelf", take_cloth, cloth_taken),
    Step("say what is known of it", describe_cloth, cloth_described),
    Step("type another cloth", type_cloth, cloth_typed),
    Step("lay", lay, laid),
    Step("tick a step of the work", tick, ticked),
    Step("write down a purchase", buy, bought),
    Step("cut", cut, was_cut),
)
