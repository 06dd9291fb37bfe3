"""The analyst's files: what their columns mean, and how they are written."""
