"""Typed, checked records: what an author may write, and what it means."""
