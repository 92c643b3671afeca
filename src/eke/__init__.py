"""Eke: remake a garment you own from cloth you have.

The house is described in ``docs/explanation/house.md``: rings of folders, each importing only rings
further in. Lengths are millimetres and angles degrees in every public signature; x grows to the right,
y upwards (away from the hem), angles counter-clockwise.
"""

__version__ = "0.1.0"
