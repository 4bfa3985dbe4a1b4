"""The finished folder on disk: written beside, swapped in whole; pictures; the store of what was made before."""
