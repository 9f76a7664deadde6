"""The Khronos validator, npm gltf-validator (Apache-2.0): installed once into a cache by its lock, and asked about files.

The lock holds version and hash and no address; npm's own settings say where packages come from. Without Node and npm the tests
that ask it are skipped and say so; in CI that is a failure.
"""

import json
import os
import shutil
import subprocess
from functools import cache
from pathlib import Path

import pytest

from tests.settings import in_ci

HERE = Path(__file__).resolve().parent / "validator"


@cache
def _modules():
    """The folder that holds the validator, installed by its lock; a text where that can't be."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if not node or not npm:
        return f"no {'npm' if node else 'Node'} on this machine; install nodejs and npm to ask the Khronos validator"
    version = json.loads((HERE / "package.json").read_text())["dependencies"]["gltf-validator"]
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "rigkit-tests" / f"gltf-validator-{version}"
    if not (home / "done").exists():
        home.mkdir(parents=True, exist_ok=True)
        for name in ("package.json", "package-lock.json"):
            shutil.copy(HERE / name, home / name)
        made = subprocess.run(
            [npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"], cwd=home, capture_output=True, text=True, timeout=240
        )
        if made.returncode:
            return f"npm ci failed: {made.stderr.strip()[-300:]}"
        (home / "done").touch()
    return home / "node_modules"


def reports(*paths):
    """The validator's report of each file: numErrors, numWarnings, messages."""
    modules = _modules()
    if isinstance(modules, str):
        if in_ci():
            pytest.fail(f"in CI this may not be skipped: {modules}", pytrace=False)
        pytest.skip(modules)
    told = subprocess.run(
        ["node", HERE / "validate.js", modules, *map(str, paths)], capture_output=True, text=True, check=True, timeout=240
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
