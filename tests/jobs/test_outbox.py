from __future__ import annotations

import threading

from eke.jobs.outbox import MAX_WAITING, Outbox


class Gate:
    """A way out that can be held shut."""

    def __init__(self) -> None:
        self.sent: list = []
        self.open = threading.Event()

    def __call__(self, message) -> None:
        assert self.open.wait(60)
        self.sent.append(message)


def test_behind_a_shut_gate_only_the_latest_progress_waits_and_order_is_kept():
    gate = Gate()
    box = Outbox(gate)
    box.put(("started", "j", None))
    for number in range(1000):
        box.put(("progress", "j", number))
    box.put(("improved", "j", "a"))
    for number in range(1000, 2000):
        box.put(("progress", "j", number))
    box.put(("done", "j", None))
    gate.open.set()
    box.flush()
    assert gate.sent == [
        ("started", "j", None), ("progress", "j", 999), ("improved", "j", "a"),
        ("progress", "j", 1999), ("done", "j", None),
    ]  # fmt: skip


def test_progress_of_one_job_does_not_swallow_that_of_another():
    gate = Gate()
    box = Outbox(gate)
    box.put(("started", "a", None))
    box.put(("progress", "a", 1))
    box.put(("progress", "b", 2))
    gate.open.set()
    box.flush()
    assert gate.sent[1:] == [("progress", "a", 1), ("progress", "b", 2)]


def test_a_flood_of_improvements_waits_for_the_listener_and_loses_none():
    gate = Gate()
    box = Outbox(gate)
    done = threading.Event()

    def flood() -> None:
        for number in range(MAX_WAITING * 3):
            box.put(("improved", "j", number))
        done.set()

    thread = threading.Thread(target=flood)
    thread.start()
    assert not done.wait(0.2)  # it has to wait while nothing goes out
    gate.open.set()
    thread.join()
    box.flush()
    assert [one[2] for one in gate.sent] == list(range(MAX_WAITING * 3))
