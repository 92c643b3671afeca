"""Pieces, edges, seams, notches, darts; walking seams, trueing steps, measuring.

Start at :mod:`eke.pattern.model`, which opens with the words.
"""
