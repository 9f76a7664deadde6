"""The rule file: for each rule its severity, limit, unit, why it matters and what to do; name pattern, colours and words of roles.

`data/audit_rules.toml` is the default, and the list of all there is. A file of one's own states only what
differs: a limit, a severity (`off` turns a rule off), a pattern. It is read strictly: an unknown word is an error that
names near ones, so that a slip never turns a rule off unseen.
"""

import re
import tomllib
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path

from rigkit import files

SEVERITIES = ("fault", "look", "off")
COURSE = "course"  # the pattern of names that rigkit.naming knows
_KEYS = {"severity": str, "limit": (int, float, list), "unit": str, "why": str, "do": str}
_TABLES = ("names", "colours", "settings", "role_words", "rules")


@dataclass(frozen=True)
class Rule:
    """One row of the rule file. limit: a number, the most; or (low, high)."""

    id: str
    severity: str
    limit: object
    unit: str
    why: str
    do: str


@dataclass(frozen=True)
class Rulebook:
    """All rows by id, and what they share: names, colours, settings and words of roles, each a dict."""

    rules: dict
    names: dict
    colours: dict
    settings: dict
    role_words: dict


def read(source=None):
    """Return the Rulebook of the default rules, changed by `source`: None, a path, TOML's own dict, or a Rulebook (as it is).

    Raises ValueError for text that is no TOML, an unknown table, rule or key (near names are told), and a value of another kind or unit.

    >>> read().rules["joint_centre"].limit, read({"rules": {"joint_centre": {"limit": 2}}}).rules["joint_centre"].limit
    (5.0, 2.0)
    """
    if isinstance(source, Rulebook):
        return source
    base = _default()
    if source is None:
        return _made(base, "the default rules")
    given, name = (source, "rules") if isinstance(source, dict) else (toml(source), Path(source).name)
    _known(given, _TABLES, name, "table")
    tables = {table: dict(base[table]) for table in _TABLES}
    for table in given:
        if not isinstance(given[table], dict):
            raise ValueError(f"{name}: {table} is {given[table]!r}; expected a table: [{table}]")
        _known(given[table], base[table], f"{name}, [{table}]", "key" if table != "rules" else "rule")
        for key, value in given[table].items():
            tables[table][key] = (
                _row(name, key, base[table][key], value) if table == "rules" else _like(name, table, key, base[table][key], value)
            )
    return _made(tables, name)


def toml(path):
    """Return the dict of a TOML file; a file that is not there or not TOML is a ValueError that says so."""
    try:
        return tomllib.loads(Path(path).read_text(encoding="utf-8"))
    except OSError as error:
        raise ValueError(f"{path}: {error.strerror or error}; expected a TOML file") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ValueError(f"{path} is no TOML: {error}") from None


def hint(word, known):
    """Return '; did you mean ...?' for a word that is not known, or a list of what is."""
    near = get_close_matches(str(word), list(known), n=3, cutoff=0.5)
    return f"did you mean {' or '.join(map(repr, near))}?" if near else f"there are: {', '.join(list(known)[:12])}"


@lru_cache(maxsize=1)
def _default():
    return toml(files.shared("data", "audit_rules.toml"))


def _known(given, known, place, kind):
    for word in given:
        if word not in known:
            raise ValueError(f"{place}: no {kind} is called {word!r}; {hint(word, known)}")


def _row(name, rule, base, value):
    place = f"{name}, [rules.{rule}]"
    if not isinstance(value, dict):
        raise ValueError(f"{place} is {value!r}; expected a table with {', '.join(_KEYS)}")
    _known(value, _KEYS, place, "key")
    for key, one in value.items():
        if not isinstance(one, _KEYS[key]) or isinstance(one, bool):
            raise ValueError(f"{place}: {key} is {one!r}; expected {'a number or [low, high]' if key == 'limit' else 'a text'}")
    if value.get("unit", base["unit"]) != base["unit"]:
        raise ValueError(f"{place}: unit is {value['unit']!r}; expected {base['unit']!r}: the rule measures in that")
    if isinstance(value.get("limit", base["limit"]), list) != isinstance(base["limit"], list):
        raise ValueError(f"{place}: limit is {value['limit']!r}; expected the form of {base['limit']!r}")
    return base | value


def _like(name, table, key, base, value):
    """A value of the same kind as the default's."""
    number = isinstance(base, (int, float)) and not isinstance(base, bool)
    kind = (int, float) if number else type(base)
    if not isinstance(value, kind) or isinstance(value, bool):
        raise ValueError(f"{name}, [{table}]: {key} is {value!r}; expected something like {base!r}")
    if isinstance(base, list) and not all(isinstance(one, str) for one in value):
        raise ValueError(f"{name}, [{table}]: {key} is {value!r}; expected a list of texts")
    if table == "colours" and not re.fullmatch("#[0-9A-Fa-f]{6}", value):
        raise ValueError(f"{name}, [colours]: {key} is {value!r}; expected the form #rrggbb")
    return value


def _made(tables, name):
    pattern = tables["names"]["pattern"]
    if pattern != COURSE:
        try:
            re.compile(pattern)
        except re.error as error:
            raise ValueError(
                f"{name}, [names]: pattern {pattern!r} is no regular expression: {error}; expected one, or {COURSE!r}"
            ) from None
    rules = {rule: _rule(name, rule, row) for rule, row in tables["rules"].items()}
    return Rulebook(rules, *(tables[table] for table in _TABLES[:-1]))


def _rule(name, rule, row):
    place = f"{name}, [rules.{rule}]"
    if missing := [key for key in _KEYS if key not in row]:
        raise ValueError(f"{place} has no {missing[0]}; expected {', '.join(_KEYS)}")
    if row["severity"] not in SEVERITIES:
        raise ValueError(f"{place}: severity is {row['severity']!r}; {hint(row['severity'], SEVERITIES)}")
    limit = row["limit"]
    if isinstance(limit, list):
        if len(limit) != 2 or not all(isinstance(end, (int, float)) for end in limit) or not limit[0] <= limit[1]:
            raise ValueError(f"{place}: limit is {limit!r}; expected [low, high], low first; an open end is inf or -inf")
        limit = tuple(map(float, limit))
    elif limit != limit:
        raise ValueError(f"{place}: limit is {limit!r}; expected a number")
    else:
        limit = float(limit)
    return Rule(rule, row["severity"], limit, row["unit"], row["why"], row["do"])
