"""How much evidence is enough, and what chance alone shows."""
