"""What happens by itself: the nightly evaluation, replay of past dates, and the frozen weekly report."""
