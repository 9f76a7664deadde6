"""Doing a thing at most so often, and always a last time: for words that follow a drag."""

import threading
import time
from contextvars import copy_context


class Pace:
    """`ask()` runs `act` now if it did not run for `seconds`, else once that time is over; `lock` is held meanwhile.

    The late run comes from a thread of its own, in the context of the `ask` that
    wanted it (a kernel sends messages in the name of the request of its context).
    """

    def __init__(self, act, lock, seconds=0.1):
        self._act, self._lock, self._seconds = act, lock, seconds
        self._last, self._waiting = -float("inf"), None

    def ask(self):
        """Run soon."""
        with self._lock:
            left = self._last + self._seconds - time.monotonic()
            if left <= 0:
                self._run()
            elif self._waiting is None:
                self._waiting = threading.Timer(left, copy_context().run, (self._late,))
                self._waiting.daemon = True
                self._waiting.start()

    def drop(self):
        """Forget a run that still waits."""
        with self._lock:
            if self._waiting is not None:
                self._waiting.cancel()
                self._waiting = None

    def _late(self):
        me = threading.current_thread()
        with self._lock:
            if self._waiting is me:  # not dropped while it waited for the lock
                self._run()

    def _run(self):
        self.drop()
        self._last = time.monotonic()
        self._act()
