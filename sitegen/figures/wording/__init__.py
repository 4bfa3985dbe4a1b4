"""Findings in sentences and cells."""
