"""Work for a worker that has nothing to do yet."""

from __future__ import annotations

from eke.jobs import Report


def warm_kernels(report: Report) -> None:
    """Load the kernels of the lay, and compile them first where that has not been done on this machine."""
    from eke.lay.warm import prepare

    report.progress(None, "Getting the lay ready")
    prepare(force=True)
