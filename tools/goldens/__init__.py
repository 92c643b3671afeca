"""What each golden of :mod:`tools.make_goldens` holds, one module a file."""
