"""Who has something to say on a day, held against the baseline that runs."""
