"""The drawing kit behind `make_photos.py`: paper, cloth, lamps and the bench, made of arithmetic."""
