"""Whether a rig was in order."""
