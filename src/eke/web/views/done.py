"""What an action did, as the app shows it."""

from __future__ import annotations

from eke.actions.room import Done
from eke.web.models.common import DoneView


def done_view(done: Done) -> DoneView:
    """Return what an action did."""
    return DoneView(
        id=done.id, sentence=done.sentence, revision=done.revision, unsettled=list(done.unsettled)
    )
