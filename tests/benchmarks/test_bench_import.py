"""What a fresh Python waits for: importing the maths, beside numpy alone; importing the viewer, beside its widgets alone; a viewer made."""

import subprocess
import sys

import pytest

import rigkit as rk
from rigkit.view import Viewer

PROGRAMS = {
    "rigkit": "import rigkit; rigkit.rotation, rigkit.Skeleton, rigkit.limb",
    "numpy": "import numpy",
    "scipy": "import scipy.spatial.transform",
}


@pytest.mark.benchmark(group="a fresh Python imports")
@pytest.mark.parametrize("library", PROGRAMS)
def test_import(benchmark, library):
    done = benchmark(subprocess.run, [sys.executable, "-c", PROGRAMS[library]], check=True)
    assert done.returncode == 0


VIEWERS = {
    "pythreejs": "import ipywidgets, pythreejs; pythreejs.Mesh",
    "import rigkit.view": "import rigkit.view.stage, rigkit.view; rigkit.view.Viewer",
}


@pytest.mark.benchmark(group="a fresh Python imports the viewer")
@pytest.mark.parametrize("library", VIEWERS)
def test_import_of_the_viewer(benchmark, library):
    done = benchmark(subprocess.run, [sys.executable, "-c", VIEWERS[library]], check=True)
    assert done.returncode == 0


@pytest.mark.benchmark(group="a viewer of Tally is made and shown once, without a browser")
def test_a_viewer_is_made_and_shown(benchmark, monkeypatch):
    monkeypatch.delenv("RIGKIT_OUTPUT", raising=False)
    robot = rk.tally()

    def show():
        viewer = Viewer(robot, "Tally")
        bundle = viewer._repr_mimebundle_()
        viewer.close()
        return bundle

    assert "image/png" in benchmark(show)
