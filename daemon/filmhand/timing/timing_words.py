"""What is said of a wait, one row a sentence."""

from __future__ import annotations

from filmhand.language import Counted


class WaitCount(Counted):
    """How often something that waits by itself was tried, and when it is tried again."""

    TRIED = ("{why} (tried once, again {again})", "{why} (tried {n} times, again {again})")
    AGAIN = ("within a minute", "within {n} minutes")
