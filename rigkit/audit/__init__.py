"""The audit: a whole character measured by rules, each with a value, a limit, where, why it matters and what to do.

    report = rk.audit.examine(character)
    for found in report: print(found.rule, found.where, found.what, found.do)

A rule measures one thing (`rigkit.audit.rules`); limits and words are in a rule file (`rigkit.audit.rulebook`); which joint is
the left elbow is a role (`rigkit.audit.roles`). What can't be told is listed as not examined, and is never taken for passed.
"""

import numpy as np

from rigkit.audit import baseline as _baseline
from rigkit.audit import guess, rulebook, subject
from rigkit.audit import roles as _roles
from rigkit.audit.finding import SCHEMA, Finding, Measured, Report, Unknown, beyond, excess
from rigkit.audit.rules import MENDED, NEEDS_NO_TREE, RULES
from rigkit.audit.subject import Skin, Subject
from rigkit.audit.table import text
from rigkit.audit.view import View

__all__ = ["examine", "roles_template", "baseline_template", "text", "Report", "Finding", "Subject", "Skin", "RULES", "SCHEMA"]


def examine(character, rules=None, roles=None, baseline=None, progress=None):
    """Return the Report of a Character (or of a Subject, for what no Character can hold).

    rules: a rule file's path or dict, changing the default. roles: a roles file's path or dict. baseline: a
    baseline's path or dict. progress: a function called with (rule, number, of how many) before each rule.
    Raises ValueError for a file that is not of its form.

    >>> import rigkit as rk
    >>> report = examine(rk.robot.practice_limb())
    >>> "control_pivot" in {row[0] for row in report.not_examined}
    True
    """
    book = rulebook.read(rules)
    accepted = _baseline.read(baseline, RULES)
    view = _view(character, book, roles)
    findings, unknown, counts = [], [], {}
    for number, (rule, measure) in enumerate(RULES.items()):
        if progress:
            progress(rule, number, len(RULES))
        measured = _measured(view, rule, measure)
        row = book.rules[rule]
        good = [one for one in measured if isinstance(one, Measured)]
        unknown += [(rule, one.where, one.reason) for one in measured if isinstance(one, Unknown)]
        if good:
            counts[rule] = len(good)
        findings += [_finding(row, one) for one in good if beyond(one.value, row.limit)]
    findings.sort(key=lambda found: (found.severity != "fault", list(RULES).index(found.rule), -excess(found)))
    return Report(view.subject.name, *_split(findings, accepted, unknown, counts))


def roles_template(character, rules=None, roles=None):
    """Return the text of a roles file that says what was guessed, for correction."""
    view = _view(character, rulebook.read(rules), roles)
    return _roles.template(view.roles, view.subject.names, view.subject.name)


def baseline_template(report):
    """Return the text of a baseline that accepts a report's open findings once each has a reason."""
    return _baseline.template(report.findings)


def _view(character, book, roles):
    looked_at = subject.of(character)
    return View(looked_at, _roles.settled(guess.roles(looked_at, book), roles, looked_at.names), book)


def _measured(view, rule, measure):
    if view.book.rules[rule].severity == "off":
        return [Unknown("", "turned off in the rule file")]
    if view.subject.cycle and rule not in NEEDS_NO_TREE:
        return [Unknown(view.subject.name, "the parents form a cycle, so no joint has a place")]
    mended = [note for word, rules in MENDED.items() if rule in rules for note in view.subject.notes if word in note]
    unknown = [Unknown(view.subject.name, "what the file held was set right on loading: see file_mended")] if mended else []
    return [*measure(view), *unknown]


def _finding(row, one):
    point = None if one.point is None else tuple(float(c) for c in np.asarray(one.point))
    return Finding(row.id, row.severity, one.where, float(one.value), row.limit, row.unit, one.what, row.why, row.do, point)


def _split(findings, accepted, unknown, counts):
    open_ones, known, stale = _baseline.applied(findings, accepted)
    return open_ones, known, tuple(unknown), counts, stale
