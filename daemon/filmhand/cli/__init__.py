"""The command line: words in, calls out. What the commands do lives in the rooms below."""

from filmhand.cli.main import main

__all__ = ["main"]
