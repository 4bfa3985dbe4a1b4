"""Charts drawn."""
