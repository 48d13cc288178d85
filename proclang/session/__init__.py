"""Keeping a run: the run folder, its journal and lock, and what drives the engine through them."""
