"""What may begin a baseline anew: returns to normal, changed loggers."""
