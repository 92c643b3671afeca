"""Settings for all tests: hypothesis without deadlines (machines differ), more examples on demand."""

import os

from hypothesis import HealthCheck, settings

settings.register_profile("eke", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("thorough", parent=settings.get_profile("eke"), max_examples=1000)
settings.load_profile(os.environ.get("EKE_HYPOTHESIS", "eke"))
