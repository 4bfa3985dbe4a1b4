"""Reviews, guides and what belongs to a text."""
