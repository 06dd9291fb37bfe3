"""Revisions, oldest first by name."""
