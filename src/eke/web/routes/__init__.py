"""Routes, one file per resource. Each reads its models, calls one action, and maps what comes back."""
