"""Which pages there are and where they stand."""
