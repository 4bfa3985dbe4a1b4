"""Each kind of page."""
