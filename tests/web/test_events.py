"""What every window hears. The form on the wire: WHATWG HTML, 9.2 “Server-sent events”."""

from __future__ import annotations

import asyncio
import json
import threading
from typing import Any

from eke.actions.projects import enter_garment, start_project
from eke.actions.room import Room
from eke.web.events import Hello, Hub
from eke.web.house import House
from eke.web.models.workroom import JobView, RevisionEvent

HELLO = Hello(version="1", started="2026-01-01T00:00:00+00:00")


def read(part: bytes) -> tuple[str, Any]:
    """Read one event as a browser does; a comment is nameless."""
    text = part.decode()
    assert text.endswith("\n\n")
    fields = [line.split(": ", 1) for line in text[:-2].split("\n")]
    found = dict(fields)
    assert len(found) == len(fields)
    return found.get("event", ""), json.loads(found["data"]) if "data" in found else found


def job(number: int, fraction: float = 0.0, sentence: str = "") -> JobView:
    return JobView(
        id=f"j{number}",
        what="lay",
        subject="g",
        title="x",
        state="running",
        fraction=fraction,
        sentence=sentence,
    )


def heard(hub: Hub, count: int, say: Any = lambda: None, ping_s: float = 60.0) -> list[tuple[str, Any]]:
    """Listen until ``count`` events have come, hello and retry among them."""

    async def listen() -> list[tuple[str, Any]]:
        one = hub.listen()
        found: list[tuple[str, Any]] = []
        threading.Thread(target=say).start()
        async for part in one.stream(HELLO, ping_s):
            found.append(read(part))
            if len(found) == count:
                break
        hub.leave(one)
        return found

    return asyncio.run(asyncio.wait_for(listen(), 60))


def test_hello_comes_first() -> None:
    first, second = heard(Hub(), 2)
    assert first == ("", {"retry": "1000"})
    assert second == ("hello", {"version": "1", "started": "2026-01-01T00:00:00+00:00"})


def test_events_come_in_order_and_typed() -> None:
    hub = Hub()
    said = "Nähte “ausgleichen”\nund weiter"  # a line break must not end the event

    def say() -> None:
        hub.publish(RevisionEvent(log="g", revision=3, sentence=said))
        hub.publish(job(1))

    events = heard(hub, 4, say)[2:]
    assert events[0] == ("revision", {"log": "g", "revision": 3, "sentence": said, "about": "history"})
    assert events[1][0] == "job"
    assert JobView.model_validate(events[1][1]) == job(1)


def test_a_slow_window_gets_the_newest_of_each_thing_and_holds_nobody_up() -> None:
    hub = Hub()

    async def listen() -> list[tuple[str, Any]]:
        one = hub.listen()
        for step in range(10_000):
            hub.publish(job(step % 3, step))
        hub.publish(RevisionEvent(log="g", revision=1, sentence=""))
        hub.publish(RevisionEvent(log="g", revision=2, sentence=""))
        hub.publish(RevisionEvent(log="g", revision=2, sentence="", about="lay"))
        hub.close()
        return [read(part) async for part in one.stream(HELLO)]

    events = asyncio.run(listen())[2:]
    assert events == []  # closed: nothing more is sent, the window will come again

    hub = Hub()

    async def listen_on() -> list[tuple[str, Any]]:
        one = hub.listen()
        for step in range(10_000):
            hub.publish(job(step % 3, step))
        hub.publish(RevisionEvent(log="g", revision=1, sentence=""))
        hub.publish(RevisionEvent(log="g", revision=2, sentence=""))
        hub.publish(RevisionEvent(log="g", revision=2, sentence="", about="lay"))
        found = []
        async for part in one.stream(HELLO):
            found.append(read(part))
            if len(found) == 7:
                hub.close()
        return found

    events = asyncio.run(listen_on())[2:]
    assert [(name, data.get("id"), data.get("fraction")) for name, data in events[:3]] == [
        ("job", "j1", 9997.0),
        ("job", "j2", 9998.0),
        ("job", "j0", 9999.0),
    ]
    assert [(data["revision"], data["about"]) for _, data in events[3:]] == [(2, "history"), (2, "lay")]


def test_silence_is_filled_with_comments() -> None:
    events = heard(Hub(), 5, ping_s=0.01)
    assert events[2:] == [("", {"": "ping"})] * 3


def test_a_closed_hub_ends_all_streams_and_those_that_come_later() -> None:
    hub = Hub()

    async def listen() -> int:
        one = hub.listen()
        asyncio.get_running_loop().call_later(0.01, hub.close)
        count = len([part async for part in one.stream(HELLO)])
        return count + len([part async for part in hub.listen().stream(HELLO)])

    assert asyncio.run(asyncio.wait_for(listen(), 60)) == 4
    assert hub.count() == 0
    hub.publish(job(1))  # nobody is there: no harm


def test_a_window_whose_loop_has_gone_harms_nobody() -> None:
    hub = Hub()

    async def listen() -> Any:
        return hub.listen()

    one = asyncio.run(listen())
    hub.publish(job(1))
    assert one.ended


def test_every_commit_is_told_once_with_its_sentence(house: House, room: Room, monkeypatch: Any) -> None:
    told: list[Any] = []
    monkeypatch.setattr(house.events, "publish", told.append)
    start_project(room, "Winter")
    garment = enter_garment(room, "Winter", "Coat").id
    done = room.change_garment(garment, "pattern.rename", {"name": "Warm coat"})
    with room.store.write() as tx:
        tx.put_document("ticks", garment, {"done": []}, subject=garment)
        tx.put_document("photograph", "p", {}, subject="shelf")
        tx.put_document("card", "c", {}, subject=garment)
    with room.store.read() as reader:
        heads = {head.id: head.revision for head in reader.heads()}
    assert told[-3] == RevisionEvent(log=garment, revision=done.revision, sentence=done.sentence)
    assert [(e.log, e.revision, e.about) for e in told[-2:]] == [
        ("workroom", heads["workroom"], "photographs"),
        (garment, heads[garment], "ticks"),
    ]
    assert [e.revision for e in told if e.log == "workroom" and e.about == "history"] == [1, 2]
