"""Analyses of a whole procedure, on top of what resolving its names and dimensions has proved."""
