"""The command line, thin over :mod:`eke.actions`."""
