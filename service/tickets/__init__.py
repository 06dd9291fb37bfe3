"""Tickets: what one is, how it moves, which facts open, change or close it. Facts in, actions out."""
