"""How long a fresh Python takes to import the package and use its maths, beside numpy alone."""

import subprocess
import sys

import pytest

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
