"""One target of one profile: what waits for it, when it may be told, and what is in the way.

At most one message a minute goes out; what comes meanwhile waits for a digest. A target that does
not answer holds one thread and nothing else: no second one is started beside it, and what waits for
it is kept as the first few by name and the rest as counts.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

from filmhand.notify.message import Digest, Message, News
from filmhand.notify.notify_words import DeliveryTries, DeliveryWord
from filmhand.notify.secret import NotifyTrouble
from filmhand.notify.targets import Target
from filmhand.timing.background_call import BackgroundCall
from filmhand.timing.backoff import Backoff

GAP = 60.0  # seconds between two messages
_LATE = 60.0  # seconds after which a target counts as not answering


class Delivery:
    """Tells one target. :meth:`add` may be called from any thread; the rest from one.

    Parameters
    ----------
    target : where it goes
    compose : makes the message of a digest
    say : takes events for the log
    wait : seconds for which nothing may go out yet, since something did before a restart
    """

    def __init__(
        self,
        target: Target,
        compose: Callable[[Digest], Message],
        say: Callable[..., None],
        *,
        clock: Callable[[], float] = time.monotonic,
        wait: float = 0.0,
    ) -> None:
        self.target = target
        self.sent_at: float | None = None  # by the computer's clock, for the state folder
        self._compose = compose
        self._say = say
        self._clock = clock
        self._ready_at = clock() + wait
        self._lock = threading.Lock()
        self._waiting = Digest()
        self._going = Digest()
        self._pause = Backoff(clock)
        self._failures = 0
        self._call: BackgroundCall[None] = BackgroundCall(f"tell {target.key}", clock)

    def add(self, news: News) -> None:
        """Tell this when it may be told."""
        with self._lock:
            self._waiting.add(news)

    def put_first(self, digest: Digest) -> None:
        """What an earlier run did not get rid of, or what did not go out."""
        with self._lock:
            self._waiting = digest.before(self._waiting)

    def look(self, now: float) -> bool:
        """Take what ended and begin what is due, without waiting; True if anything changed.

        ``now`` is the computer's clock, in seconds.
        """
        changed = self._take_result(now)
        if not self._due():
            return changed
        with self._lock:
            going = self._waiting
            message = self._compose(going)
            if not self._call.start(lambda: self.target.send(message)):
                return changed
            self._going, self._waiting = going, Digest()
        # Whatever becomes of it, the target may have got it.
        self._ready_at, self.sent_at = self._clock() + GAP, now
        return True

    def _due(self) -> bool:
        return bool(self._waiting) and self._clock() >= self._ready_at and not self._pause.holds()

    def _take_result(self, now: float) -> bool:
        try:
            if not self._call.result():
                return False
        except Exception as error:
            self._failed(error)
        else:
            if self._failures:
                self._say("messages go out again", to=self.target.shown)
            self._failures = 0
            self._pause.end()
            self._going = Digest()
        return True

    def _failed(self, error: Exception) -> None:
        # An error that is not our own may hold what was sent: only its kind is told.
        own = isinstance(error, NotifyTrouble)
        kind = type(error).__name__
        why = str(error) if own else DeliveryWord.OWN_ERROR.say(kind=kind)
        self._pause.begin(why)
        self._failures += 1
        self._ready_at = max(self._ready_at, self._clock() + self._pause.left())
        if self._failures & (self._failures - 1) == 0:  # the first, second, fourth … time
            self._say("message not sent", to=self.target.shown, why=why, times=self._failures)
        going, self._going = self._going, Digest()
        self.put_first(going)

    def trouble(self) -> str:
        """What is in the way, as part of a sentence; empty if nothing is."""
        if self._call.running_for() > _LATE:
            return DeliveryWord.SILENT.say(target=self.target.shown)
        if not self._failures:
            return ""
        why = self._pause.why
        return DeliveryTries.FAILED.say(self._failures, target=self.target.shown, why=why)

    def at_rest(self) -> bool:
        """True if nothing waits that could go out now, and nothing is on its way."""
        return not self._going and not self._due()

    def finish(self, seconds: float) -> None:
        """Wait for what is on its way, but no longer than that."""
        self._call.wait(seconds)

    def as_json(self) -> dict[str, Any]:
        """What the next run must know: what is not known to have arrived, and when one went out."""
        with self._lock:
            waiting = self._going.before(self._waiting)
        return {"sent_at": self.sent_at, "waiting": waiting.as_json()}
