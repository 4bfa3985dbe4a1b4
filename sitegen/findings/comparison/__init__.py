"""Which entrants really differ."""
