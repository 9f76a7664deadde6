"""A chapter while it is graded: it hands out the robot and the given data; check, hint and the rest only say that they were called."""

from rigkit.grading.standin.silent import Silent
from rigkit.grading.standin.view import Viewer

_OPEN = {}
_REPORTED = ("check", "hint", "show", "predict", "recall", "wrap_up", "progress", "hand_in")


def hand_out(handed, called):
    """What open_chapter gives out from now on.

    handed: "id", "title", "variant", "robot", "given", "earlier" (checkpoint id to ours). called(what, checkpoint): told of every call.
    """
    _OPEN.update(handed=handed, called=called)


def open_chapter(*args, **kwargs):
    """The one chapter that is being graded, whichever is asked for."""
    return Chapter()


class Chapter:
    """What a notebook calls `chapter`."""

    def __init__(self):
        vars(self).update({name: value for name, value in _OPEN["handed"].items() if name != "earlier"})

    def viewer(self, *args, **kwargs):
        """A viewer that shows nothing."""
        return Viewer()

    def earlier(self, checkpoint_id, yours=True):
        """Ours: the learner's other notebooks are not here."""
        ours = _OPEN["handed"]["earlier"][checkpoint_id]
        if "values" in ours:
            return dict(ours["values"])
        namespace = {"__name__": f"earlier_{ours['name']}"}
        exec(ours["text"], namespace)
        return namespace[ours["name"]]

    def __getattr__(self, name):
        if name.startswith("_"):
            raise AttributeError(name)
        return _reporter(name) if name in _REPORTED else Silent()


def _reporter(what):
    def report(checkpoint="", *args, **kwargs):
        _OPEN["called"](what, checkpoint)

    return report
