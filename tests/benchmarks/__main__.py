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

LIBRARIES = ("numpy", "scipy", "modern_robotics", "transforms3d", "nbclient")


def main(names):
    """Run the benchmark files whose names hold one of `names` (all without any); return pytest's exit code."""
    here = Path(__file__).resolve().parent
    files = [str(path) for path in sorted(here.glob("test_bench_*.py")) if not names or any(name in path.name for name in names)]
    with tempfile.TemporaryDirectory() as folder:
        told = Path(folder) / "times.json"
        code = subprocess.call([sys.executable, "-m", "pytest", "-q", "--no-header", "--benchmark-enable", "--benchmark-only",
                                "--benchmark-quiet", "--benchmark-columns=min", "--timeout=900", f"--benchmark-json={told}", *files])
        if told.exists():
            print(table(json.loads(told.read_text())["benchmarks"]))
    print("Python", sys.version.split()[0], *(f"  {name} {version(name)}" for name in LIBRARIES))
    return code


def table(benchmarks):
    """The rows of every group under its name.

    >>> print(table([{"group": "g", "name": "test_ours", "stats": {"min": 2e-6}}, {"group": "g", "name": "test_theirs", "stats": {"min": 1e-5}}]))
    g
            2 us    1.00  ours
           10 us    5.00  theirs
    """
    lines, groups = [], {}
    for one in benchmarks:
        groups.setdefault(one["group"] or one["name"], []).append(one)
    for group, rows in groups.items():
        rows.sort(key=lambda one: "rigkit" not in one["name"] if any("rigkit" in row["name"] for row in rows) else 0)
        lines.append(group)
        for one in rows:
            least = one["stats"]["min"]
            lines.append(f"  {written(least):>10}  {least / rows[0]['stats']['min']:>6.2f}  {one['name'].removeprefix('test_')}")
    return "\n".join(lines)


def written(seconds):
    """A time as people read it.

    >>> written(0.0000123), written(1.5)
    ('12.3 us', '1.5 s')
    """
    for unit, size in (("s", 1), ("ms", 1e-3), ("us", 1e-6)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds * 1e9:.3g} ns"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
