"""The chapters of the course, one module each (`chapter_NN.py` with a CHAPTER), loaded when asked for."""

from importlib import import_module
from pathlib import Path


def ids():
    """Return the ids of all chapters there are, in order: ["00", "01", ...]."""
    return sorted(path.stem.removeprefix("chapter_") for path in Path(__file__).parent.glob("chapter_[0-9][0-9].py"))


def get(chapter):
    """Return one Chapter by its id; an unknown id is a ValueError that lists them.

    >>> get("99")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    ValueError: there is no chapter '99'; there are: ...
    """
    if chapter not in ids():
        raise ValueError(f"there is no chapter {chapter!r}; there are: {', '.join(ids()) or 'none'}")
    return import_module(f"{__name__}.chapter_{chapter}").CHAPTER


def all_checkpoints():
    """Return a dict of checkpoint id to Checkpoint, all chapters in order."""
    return {checkpoint.id: checkpoint for chapter in ids() for checkpoint in get(chapter).checkpoints}
