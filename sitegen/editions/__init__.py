"""Which translation follows what: freshness by paragraph, worksheets for translators, the memory of earlier translations."""
