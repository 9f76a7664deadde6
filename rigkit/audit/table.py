"""The report as text for a terminal: a block a rule, what is wrong, by how much, where, why and what to do."""

from rigkit.audit.finding import number, told_limit, unit_of

SHOWN = 5  # findings of one rule in full; the rest are counted
WIDTH = 110
LONGEST = 400  # letters of one text of a file


def text(report, every=False):
    """Return a Report as text of at most 110 letters a line; every: show each finding, not only the worst of each rule.

    >>> from rigkit.audit.finding import Report
    >>> print(text(Report("Tally", examined={"unit": 1})))
    Tally: no finding in 1 measurement by 1 rule
    """
    rules = len(report.examined)
    count = sum(report.examined.values())
    told = f"{len(report.findings) or 'no'} finding{'s' if len(report.findings) > 1 else ''}"
    lines = [clean(f"{report.name}: {told} in {count} measurement{_s(count)} by {rules} rule{_s(rules)}")]
    for rule in dict.fromkeys(found.rule for found in report.findings):
        lines += ["", *_block(rule, report.of(rule), every)]
    if report.accepted:
        lines += ["", f"accepted by the baseline: {len(report.accepted)}"]
        lines += [_cut(f"  {found.rule:<16} {clean(found.where)}: {clean(found.accepted)}") for found in report.accepted]
    if report.stale:
        lines += ["", "in the baseline and found no more:"]
        lines += [_cut(f"  {entry['rule']:<16} {clean(entry['where'])}") for entry in report.stale]
    if report.not_examined:
        lines += ["", f"not examined: {len(report.not_examined)}"] + _unknown(report.not_examined, every)
    return "\n".join(lines)


def _block(rule, found, every):
    first, shown = found[0], found if every else found[:SHOWN]
    lines = [f"[{first.severity}] {rule}: {len(found)}, limit {told_limit(first.limit, first.unit)}"]
    wide = min(40, max(len(clean(one.where)) for one in shown))
    for one in shown:
        lines.append(_cut(f"  {clean(one.where):<{wide}}  {number(one.value):>8} {unit_of(one.value, one.unit)}   {clean(one.what)}"))
    if len(found) > len(shown):
        lines.append(f"  and {len(found) - len(shown)} more")
    return [*lines, *_wrapped("  why  ", first.why), *_wrapped("  do   ", first.do)]


def by_reason(rows, most=3):
    """Return {reason: rules with where they apply}, texts, of rows (rule, where, reason): what several rules could not tell is said once.

    >>> by_reason([("prebend", "left elbow", "not known"), ("prebend", "right elbow", "not known"), ("up", "", "not known")])
    {'not known': 'prebend (left elbow, right elbow), up'}
    """
    grouped = {}
    for rule, where, reason in rows:
        grouped.setdefault(clean(reason), {}).setdefault(rule, []).append(clean(where))
    told = {}
    for reason, rules in grouped.items():
        alike = len({tuple(places) for places in rules.values()}) == 1 and len(rules) > 1
        shown = {rule: "" if alike else _some(places, most) for rule, places in rules.items()}
        told[reason] = ", ".join(f"{rule} ({places})" if places else rule for rule, places in shown.items())
        if alike and (places := _some(next(iter(rules.values())), most)):
            told[reason] += f" ({places})"
    return told


def _some(places, most):
    shown = [place for place in places if place][:most]
    return ", ".join(shown) + (f" and {len(places) - most} more" if len(places) > most else "")


def _unknown(rows, every):
    lines = []
    for reason, rules in by_reason(rows, 10**9 if every else 3).items():
        lines += [*_wrapped("  ", f"{reason}:"), *_wrapped("      ", rules)]
    return lines


def _wrapped(head, words):
    lines, line = [], head
    for word in words.split():
        if len(line) + len(word) > WIDTH and line.strip():
            lines.append(line.rstrip())
            line = " " * len(head)
        line += word + " "
    return [*lines, line.rstrip()]


def _cut(line):
    return line if len(line) <= WIDTH * 2 else line[: WIDTH * 2 - 3] + "..."


def _s(count):
    return "" if count == 1 else "s"


def clean(value):
    """A text of a file as one harmless line of bearable length: what can't be printed, a terminal's control codes among it, as '?'.

    >>> clean("a" + chr(27) + "[31mb")
    'a?[31mb'
    """
    value = str(value)
    value = value if len(value) <= LONGEST else value[: LONGEST - 3] + "..."
    return "".join(letter if letter.isprintable() else "?" for letter in value)
