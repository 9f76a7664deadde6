"""The README's commands are true: the workbook command opens JupyterLab from a clean clone, and the wheel works without one.

The command is read from the README and run as a stranger would: a fresh clone, an empty home, a bare environment.
Packages come from the network, as they would for a stranger.
"""

import os
import re
import signal
import subprocess
import time
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
pytestmark = [pytest.mark.slow, pytest.mark.skipif(os.name == "nt", reason="the README's Windows lines are other ones")]


def readme_command(name):
    """The line that starts with python3 in the first block after the marker `<!-- command: name -->`."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.search(rf"<!-- command: {name} -->.*?^(python3 .*?)$", text, re.DOTALL | re.MULTILINE)
    assert found, f"README.md has no command marked {name!r}"
    return found.group(1)


def bare_environment(home):
    """Only what a fresh login has: a path without virtual environments, and a home."""
    path = [p for p in os.environ["PATH"].split(os.pathsep) if not (Path(p).parent / "pyvenv.cfg").exists()]
    return {"PATH": os.pathsep.join(path), "HOME": str(home), "LANG": "C.UTF-8"}


@pytest.fixture(scope="module")
def clone(tmp_path_factory):
    """A fresh clone of the committed project."""
    place = tmp_path_factory.mktemp("clone") / "rigkit"
    subprocess.run(["git", "clone", "--quiet", "--no-hardlinks", str(ROOT), str(place)], check=True)
    return place


@pytest.fixture(scope="module")
def opened(clone, tmp_path_factory):
    """The workbook command at work in the clone: yields (address, home, output so far); everything is stopped at the end."""
    home = tmp_path_factory.mktemp("home")
    log = home / "log.txt"
    with log.open("w") as out:
        process = subprocess.Popen(
            readme_command("workbook"), shell=True, cwd=clone, env=bare_environment(home), stdin=subprocess.DEVNULL,
            stdout=out, stderr=subprocess.STDOUT, start_new_session=True, executable="/bin/sh",
        )
        try:
            yield _address(process, log), home, log
        finally:
            os.killpg(process.pid, signal.SIGTERM)
            process.wait(timeout=30)


def _address(process, log, seconds=400):
    """Wait for the address that JupyterLab prints."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        found = re.search(r"http://(?:localhost|127\.0\.0\.1):\d+/lab\S*\?token=\w+", log.read_text())
        if found:
            return found.group(0)
        if process.poll() is not None:
            break
        time.sleep(0.5)
    pytest.fail(f"the workbook command gave no address; it printed:\n{log.read_text()[-3000:]}")


def test_workbook_command_opens_the_workbook_in_a_clean_clone(opened):
    address, home, _ = opened
    page = urllib.request.urlopen(address, timeout=60).read().decode()
    assert "JupyterLab" in page
    assert sorted(p.name for p in (home / "rigkit-workbook").glob("*.ipynb")) == sorted(
        p.name for p in (ROOT / "workbooks").glob("[0-9][0-9]-*.ipynb"))
    assert (home / "rigkit-workbook" / "learner.toml").exists()


def test_wheel_carries_workbooks_and_data(opened, clone, tmp_path):
    """The environment the README's command made, with a wheel in place of the clone, far from any checkout."""
    python = clone / ".venv" / "bin" / "python"
    subprocess.run([python, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)], cwd=clone, check=True, capture_output=True)
    wheel, = tmp_path.glob("*.whl")
    run = {"cwd": tmp_path, "env": bare_environment(tmp_path), "check": True, "capture_output": True, "text": True}
    subprocess.run([python, "-m", "venv", "--without-pip", "wheel-env"], **run)
    inner = tmp_path / "wheel-env" / "bin" / "python"
    packages = subprocess.run([python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"], **run).stdout.strip()
    own = subprocess.run([inner, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"], **run).stdout.strip()
    subprocess.run([python, "-m", "pip", "install", "--quiet", "--no-deps", "--target", own, str(wheel)], **run)
    Path(own, "dependencies.pth").write_text(packages)
    told = subprocess.run([inner, "-c", "import rigkit; print(rigkit.__file__, len(rigkit.tally(3).parts))"], **run).stdout
    assert told.startswith(own), told
    subprocess.run([inner, "-m", "rigkit.cli", "lab", "--prepare-only", "--folder", "work", "--learner", "ada7"], **run)
    assert len(list((tmp_path / "work").glob("[0-9][0-9]-*.ipynb"))) == len(list((ROOT / "workbooks").glob("[0-9][0-9]-*.ipynb")))


def test_readme_names_every_chapter_and_every_local_link_is_there():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for chapter in (ROOT / "workbooks").glob("[0-9][0-9]-*.ipynb"):
        assert f"workbooks/{chapter.name}" in text, f"README.md's table of chapters lacks {chapter.name}"
    for link in re.findall(r"\]\(([^)#:]+)\)", text):
        assert (ROOT / link).exists(), f"README.md points to {link}, which is not there"
