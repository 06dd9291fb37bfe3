"""Whether readings can be believed, and whether there are enough."""
