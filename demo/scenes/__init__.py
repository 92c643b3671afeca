"""A small renderer of scenes seen by a phone: paper with drawn pieces, or cloth, on a floor, with a reference.

Everything random comes from a seed, and every picture has a truth file in millimetres. See
``docs/explanation/demo-photographs.md`` for what is modelled and what is not.
"""
