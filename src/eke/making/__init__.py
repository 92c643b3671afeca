"""Making up: the order of work computed from the seams, notions, clipping, closures and cautions."""

from eke.making.cautions import Caution, cautions_for, is_small_part
from eke.making.closures import (
    buttonhole_from_centre_mm,
    buttonhole_mm,
    first_button_mm,
    overlap_mm,
    spaced_mm,
)
from eke.making.facts import Button, Facts, facts_from
from eke.making.needs import Need, lockstitch_ratio, notions_for, stitch_for, stitches_per_inch, thread_mm
from eke.making.order import Task, WorkOrder, clips_of, order_of_work
from eke.making.seams import Making, clip_count, curves_of, making_of

__all__ = [
    "Button",
    "Caution",
    "Facts",
    "Making",
    "Need",
    "Task",
    "WorkOrder",
    "buttonhole_from_centre_mm",
    "buttonhole_mm",
    "cautions_for",
    "clip_count",
    "clips_of",
    "curves_of",
    "facts_from",
    "first_button_mm",
    "is_small_part",
    "lockstitch_ratio",
    "making_of",
    "notions_for",
    "order_of_work",
    "overlap_mm",
    "spaced_mm",
    "stitch_for",
    "stitches_per_inch",
    "thread_mm",
]
