"""While a picture is traced linear algebra keeps to one processor and threads hand over soon; afterwards all is as before."""

import sys

import numpy as np
import pytest
import scipy.linalg  # noqa: F401  its own BLAS is another one
from threadpoolctl import threadpool_info

from eke.capture.side_by_side import side_by_side


def threads():
    return [lib["num_threads"] for lib in threadpool_info() if lib["user_api"] == "blas"]


@pytest.mark.parametrize("ends", ["well", "badly"])
def test_only_within_the_function(ends):
    before, usual_s = threads(), sys.getswitchinterval()
    assert before, "numpy and scipy bring a BLAS that can be asked"

    @side_by_side
    def work(size: int, *, fail: bool) -> list[int]:
        assert np.isfinite(np.ones((size, size)) @ np.ones(size)).all()
        assert sys.getswitchinterval() <= 0.2 * usual_s
        if fail:
            raise ValueError(str(threads()))
        return threads()

    if ends == "well":
        assert set(work(8, fail=False)) == {1}
    else:
        with pytest.raises(ValueError, match=r"\[1(, 1)*\]"):
            work(8, fail=True)
    assert threads() == before
    assert sys.getswitchinterval() == usual_s
    assert work.__name__ == "work"
