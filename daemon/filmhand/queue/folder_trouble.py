"""Why a queue takes nothing for now: a pause after a failure, or a folder that does not answer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from filmhand.disk import file_names
from filmhand.queue.queue_words import JobQueueWord
from filmhand.timing.backoff import Backoff
from filmhand.timing.log_rate_limit import LogRateLimit


class FolderTrouble:
    """Begins and ends the trouble of one profile's folder, and says so as seldom as it may."""

    def __init__(self, profile: str, say: Callable[..., None], clock: Callable[[], float]) -> None:
        self.pause = Backoff(clock)
        self.hanging = ""  # why, while the folder does not answer
        self._profile = profile
        self._say = say
        self._pauses, self._hangs = LogRateLimit(clock), LogRateLimit(clock)

    @property
    def why(self) -> str:
        """What is in the way; empty if nothing is."""
        return self.hanging or self.pause.why

    def stops(self) -> bool:
        """True while nothing may be taken."""
        return self.pause.holds() or bool(self.hanging)

    def begin(self, why: str, *, looking: bool = False, kind: object = None) -> None:
        """Stop for a while, longer each time; said once for each cause that stays.

        Causes of the same `kind` count as one, though their sentences may name other files.
        """
        # Said before it counts, so that another thread that ends the pause ends what was said too.
        self._say_that_it_came("paused", self._pauses, why, why if kind is None else kind)
        self.pause.begin(why, looking=looking)

    def end(self) -> None:
        """Work goes on as usual."""
        if self.pause.why:
            self.pause.end()
            if self._pauses.goes():
                self._say("goes on", profile=self._profile)

    def hangs(self, root: Path, seconds: float) -> None:
        """The folder has not answered for so long: nothing is taken until it does; said once."""
        folder = file_names.shown(str(root))
        why = JobQueueWord.HANGS.say(folder=folder, seconds=f"{seconds:.0f}")
        self._say_that_it_came("unreachable", self._hangs, why, "hangs")
        self.hanging = why

    def answers(self) -> None:
        """The folder answered, with good news or bad."""
        if self.hanging:
            self.hanging = ""
            if self._hangs.goes():
                self._say("answers again", profile=self._profile)

    def _say_that_it_came(self, event: str, limit: LogRateLimit, why: str, kind: object) -> None:
        """Once each time, but with growing gaps where it comes and goes."""
        times = limit.comes(kind)
        if times:
            more = times if times > 1 else None
            self._say(event, profile=self._profile, why=why, times=more)
