"""Where to try: one strategy a file, each a function from a :class:`~eke.lay.search.hand.Hand` to nothing."""
