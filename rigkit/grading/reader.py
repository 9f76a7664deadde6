"""What a person does to results: read the texts that wait, give their points, delete a learner.

Every call works on a folder that `rigkit grade` wrote, and writes its reports anew.
"""

import sqlite3
from fractions import Fraction
from pathlib import Path

from rigkit.grading import reports
from rigkit.grading.results import Results


def waiting(out):
    """Return the texts that await a reader: a list of (learner, checkpoint, text, claims), claims a dict of id to (words, points)."""
    found = []
    with opened(out) as results:
        for row in results.rows():
            for result in row.results:
                if result.outcome == "awaits a reader":
                    text = "\n".join(text for (checkpoint, _), text in row.texts.items() if checkpoint == result.checkpoint)
                    claims = {claim.id: (claim.text, claim.points) for claim in result.claims}
                    found.append((row.learner, result.checkpoint, text, claims))
    return found


def give(out, learner, checkpoint, points, note=""):
    """Give points for the claims of a text. points: claim id to what Fraction takes ("2", "3/2", "0.5"); returns the new total.

    An unknown learner, checkpoint or claim, and points outside 0 to the claim's, are a ValueError; nothing is written then.
    """
    with opened(out) as results:
        claims = _claims(results, learner, checkpoint)
        given = {claim: _points(claim, told, claims) for claim, told in points.items()}
        for claim, earned in given.items():
            results.give_points(learner, checkpoint, claim, earned, note)
        reports.write(results, out)
        return sum(row.earned for row in results.rows() if row.learner == learner)


def backup(out, path):
    """Copy the record of a class to a file that is not there yet, whole or not at all, also while it is being graded."""
    if Path(path).exists():
        raise ValueError(f"{path} is there already; expected the name of a new file")
    try:
        with opened(out) as results:
            results.backup(path)
    except (OSError, sqlite3.Error) as error:
        raise ValueError(f"{path} can't be written: {getattr(error, 'strerror', None) or error}") from None


def forget(out, learner):
    """Delete everything about one learner from the results and the reports. The hand-in itself is not touched."""
    with opened(out) as results:
        known = {row.learner for row in results.rows()} | {one for one, _, _ in results.problems()}
        if learner not in known:
            raise ValueError(f"nobody called {learner!r} is in {out}; there are: {', '.join(sorted(known)[:8]) or 'no learners'}")
        for name in reports.page_names({row.learner for row in results.rows()}).values():
            Path(out, "pages", name).unlink(missing_ok=True)  # names may move up when one goes: all are written again
        results.forget(learner)
        reports.write(results, out)
        reports.forget_receipts(learner, out)


class opened:
    """The results of a folder, closed again at the end; a folder without any is a ValueError."""

    def __init__(self, out):
        self.path = Path(out) / "results.sqlite"

    def __enter__(self):
        if not self.path.is_file():
            raise ValueError(f"{self.path} is not there; expected a folder that `rigkit grade ... --out` wrote")
        self.results = Results(self.path)
        return self.results

    def __exit__(self, *_):
        self.results.close()


def _claims(results, learner, checkpoint):
    """The claims of a learner's checkpoint, by id."""
    mine = [row for row in results.rows() if row.learner == learner]
    if not mine:
        raise ValueError(f"nobody called {learner!r} was graded here")
    found = next((result for row in mine for result in row.results if result.checkpoint == checkpoint), None)
    if found is None:
        raise ValueError(f"{learner} has no checkpoint {checkpoint!r} here")
    return {claim.id: claim for claim in found.claims}


def _points(claim, told, claims):
    if claim not in claims:
        raise ValueError(f"there is no claim {claim!r}; there are: {', '.join(claims)}")
    try:
        earned = Fraction(told)
    except (ValueError, ZeroDivisionError):
        raise ValueError(f"{claim}={told} is no number; expected points such as 2, 1/2 or 0.5") from None
    if not 0 <= earned <= claims[claim].points:
        raise ValueError(f"{claim}={told} is out of range; expected 0 to {claims[claim].points}")
    return earned
