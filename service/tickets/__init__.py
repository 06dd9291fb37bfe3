"""Tickets: what one is, how it moves, and which facts open, change or close it. Pure: facts in, actions out."""
