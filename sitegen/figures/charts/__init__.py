"""What a chart shows, as numbers and words."""
