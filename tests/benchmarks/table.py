"""The table of benchmarks, from what pytest-benchmark measured: ours, theirs, their ratio, and the goal.

A benchmark whose name holds a library's is that library's; all others are ours. Each of ours stands beside the fastest
library of its group, on the same work in the same run. Times are the least of many rounds, for one item of the work.
"""

import csv
from importlib.metadata import PackageNotFoundError, version

# the word in a benchmark's name, and the name its library is installed by
LIBRARIES = {
    "numpy": "numpy", "scipy": "scipy", "modern_robotics": "modern_robotics", "transforms3d": "transforms3d", "ikpy": "ikpy",
    "mujoco": "mujoco-core", "pinocchio": "pin", "nbclient": "nbclient", "trimesh": "trimesh", "pythreejs": "pythreejs",
}
COLUMNS = "what", "ours", "theirs", "library", "ratio", "goal", "reached"
US, NS, MS = 1e-6, 1e-9, 1e-3

# our benchmark: (how many items a call works on, seconds an item to reach; none: measured only)
GOALS = {
    "skeleton.py::test_one_pose[rigkit]": (1, 20 * US),
    "skeleton.py::test_many_poses[rigkit]": (10_000, 2 * US),
    "real_model.py::test_rigkit_many_poses": (10_000, None),
    "limb.py::test_one_solve": (1, 5 * US),
    "limb.py::test_a_million_targets": (1_000_000, 40 * NS),
    "limb.py::test_a_million_targets_and_poles": (1_000_000, None),
    "limb.py::test_a_million_by_the_clear_form": (1_000_000, None),
    "limb.py::test_a_million_with_turns": (1_000_000, 100 * NS),
    "chain.py::test_rigkit[fabrik-7]": (6, 20 * US),
    "chain.py::test_rigkit[fabrik-20]": (6, 100 * US),
    **{f"chain.py::test_rigkit[{name}-{links}]": (6, None) for name in ("damped_least_squares", "ccd") for links in (7, 20)},
    **{f"chain.py::test_rigkit_hinges[{name}]": (6, None) for name in ("damped_least_squares-7", "ccd-7", "damped_least_squares-20")},
    "skinning.py::test_linear_blend[rigkit]": (1, 1.9 * MS),
    "skinning.py::test_dual_quaternions[rigkit]": (1, 3.0 * MS),
    "rotation.py::test_a_million[product-rigkit]": (1_000_000, 15 * NS),
    "rotation.py::test_a_million[to matrix-rigkit]": (1_000_000, 25 * NS),
    "rotation.py::test_a_million[from matrix-rigkit]": (1_000_000, 60 * NS),
    "rotation.py::test_a_million[from three angles-rigkit]": (1_000_000, 65 * NS),
    "rotation.py::test_a_million[to three angles-rigkit]": (1_000_000, None),
    "rotation.py::test_a_million[turn a vector-rigkit]": (1_000_000, None),
    "rig.py::test_one_pose[rigkit, hose at home]": (1, 0.5 * MS),
    "rig.py::test_one_pose_with_a_mesh_of_ten_thousand_vertices": (1, 1 * MS),
    "rig.py::test_many_poses": (2_000, None),
    "grading.py::test_box_and_judge": (1, 0.1),
}
BEYOND = {"import.py::test_import[rigkit]": 15 * MS}  # seconds beyond the fastest library


def rows(benchmarks):
    """Return a dict for each of our benchmarks, by COLUMNS: times in seconds an item, None where there is none.

    >>> ours = {"group": "work", "name": "test_work", "fullname": "a/test_bench_rig.py::test_work", "stats": {"min": 2e-6}}
    >>> rows([ours, {**ours, "name": "test_work_by_numpy", "stats": {"min": 1e-5}}])[0]["ratio"]
    5.0
    """
    groups, found = {}, []
    for one in benchmarks:
        groups.setdefault(one["group"] or one["name"], []).append(one)
    for group, members in groups.items():
        peers = [one for one in members if library(one["name"])]
        best = min(peers, key=lambda one: one["stats"]["min"], default=None)
        mine = [one for one in members if not library(one["name"])]
        for one in mine:
            found.append(_row(group if len(mine) == 1 else f"{group}: {_short(one['name'])}", one, best))
    return found


def _row(what, ours, peer):
    key = ours["fullname"].rpartition("test_bench_")[2]
    count, goal = GOALS.get(key, (1, None))
    mine, theirs = ours["stats"]["min"] / count, peer and peer["stats"]["min"] / count
    if key in BEYOND and peer:
        goal = theirs + BEYOND[key]
    name, ratio = peer and _versioned(library(peer["name"])), theirs and round(theirs / mine, 2)
    return dict(zip(COLUMNS, (what, mine, theirs, name, ratio, goal, None if goal is None else mine <= goal)))


def library(name):
    """The library whose word a benchmark's name holds, None for ours: "test_by_scipy" is scipy's."""
    return next((word for word in LIBRARIES if word in name), None)


def _versioned(word):
    try:
        return f"{word} {version(LIBRARIES[word])}"
    except PackageNotFoundError:
        return word


def _short(name):
    return name.removeprefix("test_").replace("_", " ")


def table(found):
    """The rows as text; ratio: how many times as long the library takes.

    >>> print(table([dict(zip(COLUMNS, ("a pose", 2e-6, 1e-5, "scipy 1", 5.0, 3e-6, True)))]))
    what    ours  theirs  library  ratio  goal  reached
    a pose  2 us   10 us  scipy 1    5.0  3 us      yes
    """
    lines = [COLUMNS] + [
        (row["what"], *(written(row[k]) for k in ("ours", "theirs")), row["library"] or "", str(row["ratio"] or ""), written(row["goal"]),
         {True: "yes", False: f"{row['ours'] / (row['goal'] or 1):.2f} x", None: ""}[row["reached"]])
        for row in found
    ]
    widths = [max(map(len, column)) for column in zip(*lines)]
    left = 0, 3  # what, library
    return "\n".join(
        "  ".join(cell.ljust(w) if k in left else cell.rjust(w) for k, (cell, w) in enumerate(zip(line, widths))).rstrip() for line in lines
    )


def write(found, path):
    """Write the rows as CSV, times in seconds."""
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows(found)


def written(seconds):
    """A time as people read it, nothing for None.

    >>> written(0.0000123), written(1.5)
    ('12.3 us', '1.5 s')
    """
    if seconds is None:
        return ""
    for unit, size in (("s", 1), ("ms", 1e-3), ("us", 1e-6)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds * 1e9:.3g} ns"
