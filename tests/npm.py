"""A package of npm for the tests: installed once into a cache by the lock beside its package.json, and skipped where that can't be.

A lock holds versions and hashes and no address; npm's own settings say where packages come from. In CI a skip is a failure.
"""

import json
import os
import shutil
import subprocess
from functools import cache
from pathlib import Path

import pytest

from tests.settings import in_ci


def modules(folder):
    """The folder node_modules with what `folder`'s package.json and lock name; skips the test where that can't be had."""
    found = _installed(Path(folder))
    if isinstance(found, str):
        if in_ci():
            pytest.fail(f"in CI this may not be skipped: {found}", pytrace=False)
        pytest.skip(found)
    return found


@cache
def _installed(folder):
    """That folder, or a text where it can't be."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if not node or not npm:
        return f"no {'npm' if node else 'Node'} on this machine; install nodejs and npm"
    (name, version), *_ = json.loads((folder / "package.json").read_text())["dependencies"].items()
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "rigkit-tests" / f"{name}-{version}"
    if not (home / "done").exists():
        home.mkdir(parents=True, exist_ok=True)
        for one in ("package.json", "package-lock.json"):
            shutil.copy(folder / one, home / one)
        made = subprocess.run([npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"], cwd=home, capture_output=True, text=True, timeout=240, check=False)
        if made.returncode:
            return f"npm ci failed: {made.stderr.strip()[-300:]}"
        (home / "done").touch()
    return home / "node_modules"
