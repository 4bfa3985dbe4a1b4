"""Files of a publication as plain data with places; knows nothing of reviews."""
