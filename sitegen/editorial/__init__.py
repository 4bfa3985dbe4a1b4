"""What matters, in which order, and what is evidence for what: from findings to the few things an editor would say."""
