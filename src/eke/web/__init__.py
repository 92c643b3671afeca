"""The app in the browser comes here: routes over :mod:`eke.actions`. Nothing yet."""
