"""Which causes there are, what each moves, and how likely each is."""
