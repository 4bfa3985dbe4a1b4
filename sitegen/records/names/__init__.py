"""Names, addresses and references."""
