"""Loading what draws before it is wanted: about a second of imports, in a thread of its own while the learner reads.

Whoever wants one of these modules calls `ready()` first, so that no two threads
import them at once.
"""

from importlib import import_module
from threading import Thread

DRAWERS = ("rigkit.view.stage", "matplotlib.figure", "matplotlib.collections", "matplotlib.backends.backend_agg")

_begun = []


def begin():
    """Start to load, once; returns at once."""
    if not _begun:
        _begun.append(Thread(target=_load, daemon=True))
        _begun[0].start()


def ready():
    """Return when all that was begun is loaded."""
    if _begun:
        _begun[0].join()


def _load():
    for name in DRAWERS:
        try:
            import_module(name)
        except ImportError:  # whoever wants it imports it again, and is told
            return
