"""From what actions return to what the app shows: mapping functions, one file per resource."""
