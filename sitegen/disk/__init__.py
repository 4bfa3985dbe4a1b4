"""The finished folder on disk: written beside, swapped in whole; pictures; the memory of what was made before."""
