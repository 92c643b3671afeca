"""What the folders list as public is there."""

from __future__ import annotations

import eke.geometry
import eke.pattern


def test_all_names_that_are_listed_exist() -> None:
    for module in (eke.geometry, eke.pattern):
        assert len(module.__all__) == len(set(module.__all__))
        assert list(module.__all__) == sorted(module.__all__, key=lambda n: (not n[0].isupper(), n))
        assert all(getattr(module, name, None) is not None for name in module.__all__)
