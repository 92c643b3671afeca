"""Linear algebra keeps to one processor while a picture is traced, and to as many as before afterwards."""

import numpy as np
import pytest
import scipy.linalg  # noqa: F401  its own BLAS is another one
from threadpoolctl import threadpool_info

from eke.capture.unshared import unshared


def threads():
    return [lib["num_threads"] for lib in threadpool_info() if lib["user_api"] == "blas"]


@pytest.mark.parametrize("ends", ["well", "badly"])
def test_only_within_the_function(ends):
    before = threads()
    assert before, "numpy and scipy bring a BLAS that can be asked"

    @unshared
    def work(size: int, *, fail: bool) -> list[int]:
        assert np.isfinite(np.ones((size, size)) @ np.ones(size)).all()
        if fail:
            raise ValueError(str(threads()))
        return threads()

    if ends == "well":
        assert set(work(8, fail=False)) == {1}
    else:
        with pytest.raises(ValueError, match=r"\[1(, 1)*\]"):
            work(8, fail=True)
    assert threads() == before
    assert work.__name__ == "work"
