"""What an audit says: what was measured, what lies beyond its limit, and what could not be told.

A rule yields a `Measured` for each thing it looked at and an `Unknown` for each it could not. What lies
beyond the rule's limit becomes a `Finding`. A `Report` holds all three, so that "nothing found" is never taken for "nothing looked at".
"""

import json
import math
from dataclasses import dataclass, field, replace
from typing import NamedTuple

SCHEMA = "rigkit-audit-1"


class Measured(NamedTuple):
    """One measurement: value in the rule's unit, where (a name), what (a sentence with no full stop), point (3,) in the world, or None."""

    value: float
    where: str
    what: str
    point: object = None


class Unknown(NamedTuple):
    """What could not be measured, and the reason."""

    where: str
    reason: str


@dataclass(frozen=True)
class Finding:
    """A measurement beyond its limit: rule, severity, where, value, limit, unit, what, why it matters, what to do.

    limit: a number, the most; or (low, high). point: (x, y, z) metres in the world, or None. accepted: the reason of a baseline, or "".
    """

    rule: str
    severity: str
    where: str
    value: float
    limit: object
    unit: str
    what: str
    why: str
    do: str
    point: tuple | None = None
    accepted: str = ""

    def record(self):
        """Return the finding as plain data for JSON; an end of a limit that is open is None."""
        row = {name: getattr(self, name) for name in ("rule", "severity", "where", "value", "limit", "unit", "what", "why", "do", "point")}
        row["value"], row["limit"] = _plain(row["value"]), _plain(row["limit"])
        row["point"] = None if self.point is None else [round(_plain(c), 6) for c in self.point]
        return row | ({"accepted": self.accepted} if self.accepted else {})


@dataclass(frozen=True)
class Report:
    """What an audit found. findings: open ones, the worst first. accepted: those a baseline knows.

    not_examined: rows of rule, where, reason. examined: rule to the number of things it measured.
    stale: entries of the baseline that nothing matches any more.
    """

    name: str
    findings: tuple = ()
    accepted: tuple = ()
    not_examined: tuple = ()
    examined: dict = field(default_factory=dict)
    stale: tuple = ()

    def __iter__(self):
        return iter(self.findings)

    def __len__(self):
        return len(self.findings)

    def __repr__(self):
        return f"Report({self.name!r}, {len(self.findings)} findings, {sum(self.examined.values())} measurements)"

    def of(self, rule):
        """Return the open findings of one rule."""
        return [found for found in self.findings if found.rule == rule]

    @property
    def broken(self):
        """The rules that have open findings, a set of ids."""
        return {found.rule for found in self.findings}

    def record(self):
        """Return the report as plain data, in the form of `rigkit audit --json`."""
        return {
            "schema": SCHEMA,
            "character": self.name,
            "findings": [found.record() for found in self.findings],
            "accepted": [found.record() for found in self.accepted],
            "not_examined": [dict(zip(("rule", "where", "reason"), row)) for row in self.not_examined],
            "examined": [{"rule": rule, "count": count} for rule, count in self.examined.items()],
            "stale": [{key: value if isinstance(value, str) else _plain(value) for key, value in row.items()} for row in self.stale],
        }

    def json(self):
        """Return the report as JSON text."""
        return json.dumps(self.record(), indent=1, allow_nan=False)


def beyond(value, limit):
    """Return whether a value lies beyond a limit: more than a number, or outside a pair.

    >>> beyond(5.1, 5.0), beyond(5.0, (2.0, 60.0)), beyond(1.0, (2.0, 60.0))
    (True, False, True)
    """
    low, high = limit if isinstance(limit, tuple) else (-math.inf, limit)
    return not low <= value <= high


def excess(found):
    """Return how many times as far as allowed a finding is, for sorting: above 1, and inf where nothing at all is allowed.

    >>> from types import SimpleNamespace
    >>> excess(SimpleNamespace(value=10.0, limit=5.0)), excess(SimpleNamespace(value=1.0, limit=(2.0, 60.0)))
    (2.0, 2.0)
    """
    value, limit = found.value, found.limit
    low, high = limit if isinstance(limit, tuple) else (-math.inf, limit)
    if value > high:
        return value / high if high > 0 else math.inf
    return low / value if value > 0 else math.inf


def accepted(found, reason):
    """Return the finding with the reason for which a baseline accepts it."""
    return replace(found, accepted=reason)


def told(value, unit):
    """Return a value with its unit, short: '12.35 mm'.

    >>> told(12.3456, "mm"), told(3, "joints"), told(0.00012, "mm")
    ('12.35 mm', '3 joints', '0.00012 mm')
    """
    return f"{number(value)} {unit_of(value, unit)}".strip()


def unit_of(value, unit):
    """Return the unit as it is said after a value: one joint, two joints."""
    return unit[:-1] if value == 1 and unit.endswith("s") else unit


def told_limit(limit, unit):
    """Return a limit in words: 'at most 5 mm', '2 to 60 degrees', 'at least 0 mm'.

    >>> told_limit(5.0, "mm"), told_limit((2.0, 60.0), "degrees"), told_limit((0.0, math.inf), "mm")
    ('at most 5 mm', '2 to 60 degrees', 'at least 0 mm')
    """
    if not isinstance(limit, tuple):
        return f"at most {told(limit, unit)}"
    low, high = limit
    if math.isinf(high):
        return f"at least {told(low, unit)}"
    return f"at most {told(high, unit)}" if math.isinf(low) else f"{number(low)} to {told(high, unit)}"


def number(value):
    """Return a number with three digits that count or four, whole ones whole.

    >>> number(114.62), number(20.0000004), number(0.012345), number(5e-14)
    ('114.6', '20', '0.0123', '0')
    """
    value = float(value)
    if abs(value) < 1e-9:
        return "0"
    if value == round(value) and abs(value) < 1e6:
        return f"{value:.0f}"
    if not math.isfinite(value) or abs(value) >= 1e6:
        return f"{value:.3g}"
    return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.4g}" if abs(value) >= 10 else f"{value:.3g}"


def _plain(value):
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return float(value) if math.isfinite(value) else None
