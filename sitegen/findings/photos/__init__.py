"""What pairs of photos show."""
