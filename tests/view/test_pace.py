"""Words that follow a drag: not too often, and the last one always."""

import threading
import time
from contextvars import ContextVar

from rigkit.view.pace import Pace

request = ContextVar("request")


def until(true, seconds=20):
    """Wait for something that another thread does."""
    end = time.monotonic() + seconds
    while not true() and time.monotonic() < end:
        time.sleep(0.01)
    return true()


def test_many_wishes_are_one_run_at_once_and_one_at_the_end():
    state, seen = [0], []
    pace = Pace(lambda: seen.append(state[0]), threading.RLock(), 0.3)
    for state[0] in range(5):
        pace.ask()
    assert seen == [0]
    assert until(lambda: len(seen) == 2) and seen[1] == 4


def test_a_dropped_run_does_not_come():
    seen = []
    pace = Pace(lambda: seen.append(time.monotonic()), threading.RLock(), 0.05)
    pace.ask()
    pace.ask()
    pace.drop()
    time.sleep(0.2)
    assert len(seen) == 1


def test_a_run_dropped_while_it_waits_for_the_lock_does_not_come():
    lock, seen = threading.RLock(), []
    pace = Pace(lambda: seen.append(1), lock, 0.05)
    with lock:
        pace.ask()
        pace.ask()
        late = pace._waiting
        time.sleep(0.2)
        pace.drop()
    late.join(20)
    assert seen == [1]


def test_a_late_run_is_in_the_context_of_its_wish():
    seen = []
    pace = Pace(lambda: seen.append(request.get(None)), threading.RLock(), 0.05)
    request.set("first")
    pace.ask()
    request.set("second")
    pace.ask()
    assert until(lambda: len(seen) == 2) and seen == ["first", "second"]
