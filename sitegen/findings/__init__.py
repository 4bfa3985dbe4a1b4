"""What the readings support: pure functions from numbers and records to findings."""
