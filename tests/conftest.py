"""Settings for all tests.

The gate draws the same examples each time, so that a change is judged by what it did and not by luck. `make explore`
draws others, many more of them; what it finds is kept as an explicit example of the test.
"""

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "eke", deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True, max_examples=50
)
settings.register_profile("explore", parent=settings.get_profile("eke"), derandomize=False, max_examples=1000)
settings.load_profile(os.environ.get("EKE_HYPOTHESIS", "eke"))
