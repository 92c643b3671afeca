"""The app in the browser: routes over :mod:`eke.actions`, and the server around them.

:func:`eke.web.serve.open_workroom` opens a workroom; ``docs/explanation/serving.md`` tells how. Nothing is loaded
here, so that an address can be printed before heavy libraries are.
"""
