"""How strongly a vehicle's readings speak for a change."""
