"""The workbook's side: chapters, checkpoints, panels, progress. A notebook needs one call, open_chapter("06").

How it fits together: a chapter's checkpoints (checkpoint.py) ask for answers in
a form (forms.py); collect.py tries an answer and keeps plain data; judge.py
measures the claims; panel.py tells; progress.py remembers; notebook.py ties them
to the notebook, build.py writes the notebooks from their texts.
"""

from importlib import import_module

_NAMES = {
    "open_chapter": "notebook",
    "catalogue": "listing",
    "Case": "checkpoint",
    "Chapter": "checkpoint",
    "Checkpoint": "checkpoint",
    "Claim": "checkpoint",
    "Context": "checkpoint",
    "Measure": "checkpoint",
    "Mistake": "checkpoint",
}

__all__ = list(_NAMES)


def __getattr__(name):
    if name in _NAMES:
        return getattr(import_module(f"rigkit.course.{_NAMES[name]}"), name)
    raise AttributeError(f"module 'rigkit.course' has no attribute {name!r}; it has: {', '.join(__all__)}")
