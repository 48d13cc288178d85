"""proclang: a plain-text language for field procedures, and its runner."""

__version__ = "0.1.0"
