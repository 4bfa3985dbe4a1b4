"""One language's catalogues, numbers, dates and names."""
