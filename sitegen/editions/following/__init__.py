"""Which translation follows what."""
