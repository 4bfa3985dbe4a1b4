"""Worksheets for translators."""
