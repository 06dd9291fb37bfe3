"""View data in; pages, figures and export files out."""
