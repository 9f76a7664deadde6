"""The robot while a notebook is graded: a chapter hands it out, `chapter.robot`; it can't be built anew."""

from rigkit.course.closed import ClosedBook


def tally(*args, **kwargs):
    """Closed: it knows the true joint positions."""
    raise ClosedBook("robot.tally")


def practice_limb(*args, **kwargs):
    """Closed, as `tally` is."""
    raise ClosedBook("robot.practice_limb")
