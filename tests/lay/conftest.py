from __future__ import annotations

import pytest

from eke.lay import warm

warm.use_cache()


@pytest.fixture(scope="session", autouse=True)
def warm_kernels() -> None:
    warm.prepare()
