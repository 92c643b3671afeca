"""The doors: page plans and pictures in and out of files, one format a file.

``svg``, ``pdf`` and ``png`` write page plans of :mod:`eke.paper`; ``html`` writes the journal for a browser;
``registry`` lists what can be written. Nothing here opens or overwrites a file: bytes in, bytes out. Import
the module you need; some bring heavy libraries with them.
"""

from __future__ import annotations

__all__: list[str] = []
