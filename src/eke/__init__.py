"""Eke: remake a garment you own from cloth you have.

The house is described in ``docs/explanation/house.md``: rings of folders, each importing only rings
further in. Lengths are millimetres and angles degrees in every public signature; x grows to the right,
y upwards (away from the hem), angles counter-clockwise.
"""

import os

# Eke's matrices are small, and it spreads work over the cores itself: a linear algebra library that does so too only
# makes both wait (solving for a camera took twice as long). Read when numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
