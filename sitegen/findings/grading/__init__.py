"""Who graded, and how far graders agree."""
