"""How seams are proposed, step by step: candidate lines, evidence, runs over seams, the best choice.

:mod:`eke.pattern.proposals` puts the steps together.
"""
