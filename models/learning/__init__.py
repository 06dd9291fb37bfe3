"""What the fleet's readings up to a day teach: breaks, adjustment, what a crowd does, noise."""
