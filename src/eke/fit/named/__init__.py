"""The named fit changes, one to a file; each ends with its kind of change. The list is in :mod:`eke.fit.kinds`."""
