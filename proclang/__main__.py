"""`python -m proclang`."""

from proclang.cli.main import entry

if __name__ == "__main__":
    entry()
