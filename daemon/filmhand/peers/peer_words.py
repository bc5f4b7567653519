"""What is said of the processes that share a station, one row a sentence."""

from __future__ import annotations

from filmhand.language import Sentence


class PeerWord(Sentence):
    """What a process is told that finds another at its station, and the state of a job there."""

    RUNS_ALREADY = (
        "Filmhand is already running for this station and will take what waits; to stop it, end "
        "that process first."
    )
    WITHOUT_NOTES = "without notes"
