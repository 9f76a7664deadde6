"""Tally's finished rig while a notebook is graded: whatever is asked of it is closed."""

from rigkit.grading.standin.silent import closed


def __getattr__(name):
    """Closed: a finished rig is what chapters ask for."""
    if name.startswith(("__", "pytest_")):  # what Python and pytest ask of any module
        raise AttributeError(name)
    return closed(f"robot.rig.{name}")
