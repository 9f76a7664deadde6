"""A baseline: findings that a team knows and accepts, each with its reason.

    [[accepted]]
    rule = "prebend"
    where = "left_knee_joint"
    value = 1.6          # as it was accepted; a finding that has grown worse is open again
    reason = "bent in the next version"

An entry that nothing matches any more is told as stale, so that the file does not outlive its findings.
"""

import math
from pathlib import Path

from rigkit.audit import finding, rulebook
from rigkit.audit.roles import quoted

ROOM = 1.01  # a value this many times as large is still the same finding: another machine's rounding
_KEYS = {"rule": str, "where": str, "value": (int, float), "reason": str}


def read(source, rules):
    """Return the entries of a baseline, a list of dicts: None (none), a path, or TOML's dict. rules: the ids there are.

    Raises ValueError for unknown keys and rules (near names are told), and for an entry without a reason.
    """
    if source is None:
        return []
    given, name = (source, "baseline") if isinstance(source, dict) else (rulebook.toml(source), Path(source).name)
    if set(given) - {"accepted"}:
        raise ValueError(f"{name}: {sorted(set(given) - {'accepted'})[0]!r} is not expected; a baseline holds [[accepted]] entries alone")
    entries = given.get("accepted", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise ValueError(f"{name}: accepted is {type(entries).__name__}; expected [[accepted]] entries")
    for number, entry in enumerate(entries, start=1):
        _check(entry, f"{name}, entry {number}", rules)
    return entries


def _check(entry, place, rules):
    for key, value in entry.items():
        if key not in _KEYS:
            raise ValueError(f"{place}: no key is called {key!r}; {rulebook.hint(key, _KEYS)}")
        if not isinstance(value, _KEYS[key]) or isinstance(value, bool):
            raise ValueError(f"{place}: {key} is {value!r}; expected {'a number' if key == 'value' else 'a text'}")
    for key in ("rule", "where", "reason"):
        if not entry.get(key, "").strip():
            raise ValueError(f"{place} has no {key}; expected rule, where and a reason that others can read")
    if entry["rule"] not in rules:
        raise ValueError(f"{place}: no rule is called {entry['rule']!r}; {rulebook.hint(entry['rule'], rules)}")


def applied(findings, entries):
    """Return (open findings, accepted ones, stale entries)."""
    known = {(entry["rule"], entry["where"]): entry for entry in entries}
    open_ones, accepted, met = [], [], set()
    for found in findings:
        entry = known.get((found.rule, found.where))
        met.add((found.rule, found.where))
        if entry is None or _worse(found, entry):
            open_ones.append(found)
        else:
            accepted.append(finding.accepted(found, entry["reason"]))
    return tuple(open_ones), tuple(accepted), tuple(entry for key, entry in known.items() if key not in met)


def template(findings):
    """Return the text of a baseline that would accept these findings, once each has been given a reason."""
    lines = ["# Findings known and accepted. Write a reason into each that stays; delete the rest."]
    for found in findings:
        value = repr(found.value) if math.isfinite(found.value) else "inf"
        lines += ["", "[[accepted]]", f"rule = {quoted(found.rule)}", f"where = {quoted(found.where)}", f"value = {value}", 'reason = ""']
    return "\n".join(lines) + "\n"


def _worse(found, entry):
    """Whether a finding is further off its limit than when it was accepted, on the same side of it or on the other."""
    if "value" not in entry:
        return False
    low, high = found.limit if isinstance(found.limit, tuple) else (-math.inf, found.limit)
    then = entry["value"]
    if found.value > high:
        return not (then > high and found.value - high <= ROOM * (then - high))
    return not (then < low and low - found.value <= ROOM * (low - then))
