"""A fictional fleet with history and known faults, for practice and for measuring; numpy and a seed only."""
