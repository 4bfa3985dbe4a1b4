"""What findings look like to a reader of one language: numbers, dates, units, words, tables, charts."""
