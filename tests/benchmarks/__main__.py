"""`python -m tests.benchmarks [names]`: run the benchmarks and print a table: what, how long, and the ratio to ours.

Ours is the first row of each group; a ratio of 12 means twelve times as long as ours. Times are the least of
many rounds: on a busy machine the least is what says most.
"""

import json
import subprocess
import sys
import tempfile
from importlib.metadata import version
from pathlib import Path

from tests.benchmarks.table import table

LIBRARIES = ("numpy", "scipy", "modern_robotics", "transforms3d", "ikpy", "mujoco-core", "nbclient")


def main(names):
    """Run the benchmark files whose names hold one of `names` (all without any); return pytest's exit code."""
    here = Path(__file__).resolve().parent
    files = [str(path) for path in sorted(here.glob("test_bench_*.py")) if not names or any(name in path.name for name in names)]
    if not files:
        print(f"no benchmark file has {' or '.join(names)} in its name; there are: {', '.join(path.stem[11:] for path in here.glob('test_bench_*.py'))}")
        return 2
    with tempfile.TemporaryDirectory() as folder:
        told = Path(folder) / "times.json"
        code = subprocess.call([sys.executable, "-m", "pytest", "-q", "--no-header", "--benchmark-enable", "--benchmark-only",
                                "--benchmark-quiet", "--benchmark-columns=min", "--timeout=900", f"--benchmark-json={told}", *files])
        if told.exists():
            print(table(json.loads(told.read_text())["benchmarks"]))
    print("Python", sys.version.split()[0], *(f"  {name} {version(name)}" for name in LIBRARIES))
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
