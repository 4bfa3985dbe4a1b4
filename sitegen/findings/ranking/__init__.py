"""Worth, orders and how sure they are."""
