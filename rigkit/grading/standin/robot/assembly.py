"""What puts a rig together while a notebook is graded: whatever is asked of it is closed."""

from rigkit.grading.standin.silent import closed


def __getattr__(name):
    """Closed: chapter 12 lends what may be used of it."""
    if name.startswith(("__", "pytest_")):  # what Python and pytest ask of any module
        raise AttributeError(name)
    return closed(f"robot.assembly.{name}")
