"""The Khronos validator, npm gltf-validator (Apache-2.0): installed by its lock (`tests/npm.py`), and asked about files."""

import json
import subprocess
from pathlib import Path

from tests import npm

HERE = Path(__file__).resolve().parent / "validator"


def reports(*paths):
    """The validator's report of each file: numErrors, numWarnings, messages."""
    told = subprocess.run(
        ["node", HERE / "validate.js", npm.modules(HERE), *map(str, paths)], capture_output=True, text=True, check=True, timeout=240
    )
    return json.loads(told.stdout)


def problems(*paths):
    """Every error and warning about these files, as (file, code, place); empty where all is well."""
    return [
        (Path(path).name, message.get("code", message["message"]), message.get("pointer", ""))
        for path, report in zip(paths, reports(*paths))
        for message in report["messages"]
        if message["severity"] < 2
    ]
