"""Where the workbooks and the data lie: beside the package in a checkout, inside it in an installed wheel."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def shared(*parts):
    """Return the path of a file or folder of `data/` or `workbooks/`.

    Raises FileNotFoundError when it is in neither place.
    """
    for base in (_PACKAGE / "_shared", _PACKAGE.parent):
        path = base.joinpath(*parts)
        if path.exists():
            return path
    raise FileNotFoundError(f"{'/'.join(parts)} is neither beside the package nor inside it; install rigkit again, or work in a full checkout")
