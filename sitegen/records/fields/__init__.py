"""How single values are read."""
