"""The demo: a child's pinafore and a small apron, from photographs to cut cloth. Not part of the package."""
