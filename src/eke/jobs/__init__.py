"""Long computations in processes of their own: progress, improvements, stopping.

It knows nothing of what is computed::

    runner = Runner(warm=("eke.lay.search",))
    job = runner.start("eke.cutting.pack:pack", {"problem": problem}, listener=show)
    job.cancel()
    result = job.wait()
"""

from eke.jobs.here import run_here
from eke.jobs.job import Job, JobEvent, JobView, Listener
from eke.jobs.report import Report
from eke.jobs.runner import Runner

__all__ = ["Job", "JobEvent", "JobView", "Listener", "Report", "Runner", "run_here"]
