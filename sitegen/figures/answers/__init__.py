"""What answers a reader first: key figures, picks, ranks, values in texts."""
