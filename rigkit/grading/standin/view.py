"""The viewer while a notebook is graded: it draws nothing and takes every call."""

from rigkit.grading.standin.silent import Silent


class Viewer(Silent):
    """Stands in for the 3D viewer."""
