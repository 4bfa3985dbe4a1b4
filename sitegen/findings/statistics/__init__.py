"""Means, intervals, medians and what else single groups of readings support."""
