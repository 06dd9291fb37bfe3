"""Repairs to come, and what they cost."""
