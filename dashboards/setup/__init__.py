"""Views of what integrators and administrators set up."""
