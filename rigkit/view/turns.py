"""Taking turns: the kernel may handle the mouse and a running cell in two threads, and only one may change the scene."""

from functools import wraps


def one_at_a_time(method):
    """Hold `self.turn_lock`, a re-entrant lock, while the method runs."""

    @wraps(method)
    def turn(self, *args, **kwargs):
        with self.turn_lock:
            return method(self, *args, **kwargs)

    return turn
