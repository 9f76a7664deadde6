"""The table of benchmarks, from what pytest-benchmark measured."""


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
