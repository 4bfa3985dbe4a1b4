"""Which pages there are, what each shows, how they link to each other."""
