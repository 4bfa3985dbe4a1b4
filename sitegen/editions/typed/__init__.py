"""Figures typed by hand."""
