"""The 3D viewer of the workbook and its still pictures.

This is the only place that knows pythreejs. Everything is drawn from a
description in plain numpy (`rigkit.view.marks`), so that the same scene can be
painted by the browser (`rigkit.view.stage`) or into a PNG (`rigkit.view.picture`).
"""

import os

os.environ.setdefault("JUPYTER_WIDGETS_ECHO", "0")  # read when ipywidgets is imported; saves a third of the messages of a drag

__all__ = ["Viewer"]


def __getattr__(name):
    if name == "Viewer":
        from rigkit.view.viewer import Viewer

        return Viewer
    raise AttributeError(f"module 'rigkit.view' has no attribute {name!r}; it has: Viewer")
