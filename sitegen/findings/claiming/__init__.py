"""Makers' figures compared with findings."""
