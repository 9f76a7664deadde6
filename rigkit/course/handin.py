"""What a learner hands in: one file with the chapters of their folder."""

import re
import zipfile
from pathlib import Path


def pack(folder, learner_id):
    """Write hand-in/LEARNER.zip with the chapters (NN-name.ipynb) of a folder; return (its path, the names in it)."""
    folder = Path(folder)
    notebooks = sorted(path for path in folder.glob("*.ipynb") if re.fullmatch(r"\d\d-[a-z0-9-]+\.ipynb", path.name) and path.is_file())
    notebooks = [path for path in notebooks if not re.search("-(newer|older[0-9]*)$", path.stem)]
    (folder / "hand-in").mkdir(exist_ok=True)
    packed = folder / "hand-in" / f"{learner_id}.zip"
    half = packed.with_suffix(".part")
    with zipfile.ZipFile(half, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in notebooks:
            archive.write(path, path.name)
    half.replace(packed)
    return packed, [path.name for path in notebooks]
