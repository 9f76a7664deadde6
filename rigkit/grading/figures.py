"""What the numbers of a class say: how the checkpoints work, and what was missed by which planned mistake.

Facility and discrimination are those of classical test theory: the mean share of a
checkpoint's points, and the correlation of its points with the rest of the
learner's points (the corrected item-total correlation). Source: F. M. Lord,
M. R. Novick, Statistical Theories of Mental Test Scores, 1968, chapter 15 (memory).
"""

from fractions import Fraction

import numpy as np

STATUS = {"graded": "graded", "look": "needs a look", "unreadable": "unreadable"}


def status(row):
    """A notebook's status in words, as the table shows it."""
    return "awaits a reader" if row.status == "graded" and row.waits else STATUS[row.status]


def decimal(points):
    """Exact points as a decimal number, four places at most.

    >>> decimal(Fraction(7, 2)), decimal(Fraction(1, 3)), decimal(5)
    ('3.5', '0.3333', '5')
    """
    points = Fraction(points)
    return str(points.numerator) if points.denominator == 1 else f"{float(points):.4f}".rstrip("0")


def items(rows):
    """Each checkpoint of the class: (checkpoint, title, handed in, facility, discrimination); None where it can't be told.

    Notebooks that could not be read don't count, nor does a text before all of its answers were read.
    """
    rows = [row for row in rows if row.status != "unreadable"]
    totals, by_checkpoint, waiting = {}, {}, set()
    for row in rows:
        totals[row.learner] = totals.get(row.learner, 0) + row.earned
    for row in rows:
        for result in row.results:
            by_checkpoint.setdefault((result.checkpoint, result.title), []).append((result.earned, result.points, totals[row.learner]))
            waiting |= {result.checkpoint} if result.outcome == "awaits a reader" else set()
    return [
        (*known, len(scores), facility(scores), discrimination(scores))
        for known, scores in sorted(by_checkpoint.items())
        if known[0] not in waiting and scores[0][1]
    ]


def facility(scores):
    """The mean share of the points. scores: (earned, points, total) of each learner.

    >>> facility([(1, 2, 5), (2, 2, 6)])
    0.75
    """
    return float(sum(Fraction(earned) / points for earned, points, _ in scores) / len(scores))


def discrimination(scores):
    """The correlation of a checkpoint's points with the rest of the total; None when either is the same for everybody.

    >>> discrimination([(0, 1, 3), (1, 1, 6), (1, 1, 8)]).__round__(3)
    0.866
    """
    own = np.array([float(earned) for earned, _, _ in scores])
    rest = np.array([float(total - earned) for earned, _, total in scores])
    if len(scores) < 3 or np.ptp(own) == 0 or np.ptp(rest) == 0:
        return None
    return float(np.corrcoef(own, rest)[0, 1])


def missed(rows):
    """Claims that were tried and missed.

    Each as (checkpoint, claim text, by how many, of how many, [(planned mistake's diagnosis, by how many), ...]).
    """
    table = {}
    for row in rows:
        for result in row.results:
            for claim in result.claims:
                entry = table.setdefault((result.checkpoint, claim.id, claim.text), [0, 0, {}])
                if claim.outcome in ("not started", "name missing", "awaits a reader"):
                    continue
                entry[1] += 1
                if claim.earned < claim.points:
                    entry[0] += 1
                    told = claim.likely if claim.mistake else claim.outcome if claim.outcome != "look" else ""
                    if told:
                        entry[2][told] = entry[2].get(told, 0) + 1
    return [
        (checkpoint, text, count, tried, sorted(why.items(), key=lambda pair: (-pair[1], pair[0])))
        for (checkpoint, _, text), (count, tried, why) in sorted(table.items(), key=lambda pair: (pair[0][0], -pair[1][0]))
        if count
    ]
