"""Bytes in, believed columns and reasoned refusals out."""
