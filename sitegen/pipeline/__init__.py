"""Runs the flow: what is asked of what, what is stored between builds, and when it is made again."""
