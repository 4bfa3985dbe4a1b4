"""What machines read."""
