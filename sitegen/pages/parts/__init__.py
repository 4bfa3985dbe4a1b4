"""What several kinds of page share."""
