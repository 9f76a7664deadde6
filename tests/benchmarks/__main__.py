"""`python -m tests.benchmarks [names] [--csv FILE]`: run the benchmarks and print one table.

Each row: what, ours, theirs (the fastest general-purpose library on the same work in the same run, with its version), the
ratio (5 means that theirs takes five times as long), the goal, and whether it was reached or by how much it was missed. Times
are the least of many rounds: on a busy machine the least is what says most.
"""

import argparse
import json
import platform
import subprocess
import sys
import tempfile
from importlib.metadata import version
from pathlib import Path

from tests.benchmarks import table


def main(arguments):
    """Run the benchmark files whose names hold one of the names given (all without any); return pytest's exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__.partition("\n\n")[2])
    parser.add_argument("names", nargs="*", help="parts of file names, such as limb rig; none: all")
    parser.add_argument("--csv", metavar="FILE", help="write the table there too, times in seconds")
    given = parser.parse_args(arguments)
    here = Path(__file__).resolve().parent
    known = sorted(here.glob("test_bench_*.py"))
    files = [str(path) for path in known if not given.names or any(name in path.name for name in given.names)]
    if not files:
        print(f"no benchmark file has {' or '.join(given.names)} in its name; there are: {', '.join(path.stem[11:] for path in known)}")
        return 2
    with tempfile.TemporaryDirectory() as folder:
        told = Path(folder) / "times.json"
        code = subprocess.call([sys.executable, "-m", "pytest", "-q", "--no-header", "--benchmark-enable", "--benchmark-only",
                                "--benchmark-quiet", "--benchmark-columns=min", "--timeout=900", f"--benchmark-json={told}", *files])
        found = table.rows(json.loads(told.read_text())["benchmarks"]) if told.exists() else []
    print(table.table(found))
    print("\nPython", platform.python_version(), " numpy", version("numpy"), f" {platform.machine()}")
    if given.csv:
        table.write(found, given.csv)
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
