"""The count of tests by kind and source is true, and every source that a test names is known."""

import ast
import subprocess
import sys
from pathlib import Path

from tests.sources import SOURCES

TESTS = Path(__file__).parent


def named():
    """Every source named in a marker, as (name, file)."""
    for path in sorted(TESTS.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "pytest.mark.source":
                yield from ((argument.value, path.name) for argument in node.args)


def test_every_source_that_is_named_is_known_and_every_known_one_is_named():
    names = dict(named())
    unknown = {name: file for name, file in names.items() if name not in SOURCES}
    assert not unknown, f"add to tests/sources.py: {unknown}"
    assert set(SOURCES) == set(names), f"no test names {set(SOURCES) - set(names)}; take them out of tests/sources.py"
    assert {source.kind for source in SOURCES.values()} == {"library", "text", "model"}


def test_the_command_counts_tests_and_checks_by_kind_and_source():
    run = [sys.executable, "-m", "tests.evidence", "tests/test_reference_limb.py", "tests/test_control.py", "rigkit/limb.py"]
    told = subprocess.run(run, cwd=TESTS.parent, capture_output=True, text=True, check=True).stdout
    rows = {line[:32].strip(): line[32:].split() for line in told.splitlines() if line}
    assert rows["SciPy"][:2] == ["2", "17"]  # test_reference_limb: an optimiser on 12 limbs, Qhull on 5 loops
    assert rows["Euclid"][:2] == ["2", "6"]  # its 5 triangles, and one check of outlines
    assert rows["modern_robotics"][:2] == ["1", "8"]
    kinds = list(rows)[1 : list(rows).index("all")]
    assert {"doctest", "oracle: another library", "reference value: a publication", "property", "error text", "unit"} == set(kinds)
    assert int(rows["all"][1]) == sum(int(rows[kind][1]) for kind in kinds)


def test_a_file_that_can_not_be_collected_is_told(tmp_path):
    broken = tmp_path / "test_broken.py"
    broken.write_text("import nothing_of_this_name")
    run = [sys.executable, "-m", "tests.evidence", str(broken)]
    told = subprocess.run(run, cwd=TESTS.parent, capture_output=True, text=True, check=False)
    assert told.returncode == 1 and "could not collect" in told.stderr and "nothing_of_this_name" in told.stderr
