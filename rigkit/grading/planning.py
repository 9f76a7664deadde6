"""What a run of grading is to do: which hand-ins, how they are confined, and which of several counts."""

from dataclasses import dataclass, field

from rigkit.course import chapters as course
from rigkit.course import handout
from rigkit.grading import box, intake, times


@dataclass(frozen=True)
class Plan:
    """What is to be graded, and how.

    sources: the hand-ins of this run. problems: of intake. when: file to time, None where no list was given. by_pair: (learner,
    chapter) to the sources of it. whole: whether it is all of the folder. receipts: of the zips in it.
    """

    sources: list
    problems: list
    secret: bytes | None
    mode: str
    limits: box.Limits
    when: dict | None = None
    deadline: str = ""
    rule: str = "last"
    whole: bool = True
    by_pair: dict = field(default_factory=dict)
    receipts: list = field(default_factory=list)


def plan(folder, chapters, secret, mode, limits, only, when, deadline, rule, roster=None):
    """The Plan of a run (arguments as in coordinator.grade, mode of box.MODES); Trouble or ValueError when nothing can be done."""
    files = {one: course.get(one).file for one in chapters_of(chapters)}
    if rule not in times.RULES:
        raise ValueError(f"there is no rule {rule!r}; there are: {', '.join(times.RULES)}")
    if deadline and when is None:
        raise ValueError("a deadline needs a list of when each was handed in: --times FILE")
    when, deadline = times.read(when) if when is not None else None, times.moment(deadline) if deadline else ""
    sources, problems, receipts = intake.find(folder, files, every=when is not None)
    if not sources and not problems:
        raise intake.Trouble(f"{folder} holds no hand-ins; expected {folder}/LEARNER/NN-name.ipynb or {folder}/LEARNER.zip")
    if secret is not None:
        secret = secret if isinstance(secret, bytes) else intake.read_file(secret, 1 << 16).strip()
    chosen = _only(sources, only)
    if when is not None:
        problems = problems + _without_time(chosen, when, deadline)
    if roster is not None:
        problems = problems + _against(handout.read_roster(roster), sources, problems)
    problems = [problem for problem in problems if not only or problem.learner in {source.learner for source in chosen}]
    by_pair = {}
    for source in chosen:
        by_pair.setdefault((source.learner, source.chapter), []).append(source)
    chosen.sort(key=lambda source: source.chapter)  # one chapter after the other, so that warm servers are used again
    return Plan(chosen, problems, secret, mode, limits, when, deadline, rule, not only, by_pair, receipts)


def mode_here(trust):
    """How notebooks are run on this machine; Trouble where they can't be confined and nobody said that they may run all the same."""
    mode = box.mode(trust)
    if not mode:
        raise intake.Trouble(
            f"{box.trouble()}. Without a box a notebook can read and change whatever you can; to run them all the same: --trust-submissions"
        )
    return mode


def chapters_of(chapters):
    """The ids of the chapters to grade: those named, each known, or all of the course."""
    return [course.get(one).id for one in chapters or course.ids()]


def _only(sources, only):
    """The sources that "LEARNER", "LEARNER/NN" or "/NN" name; all where nothing is named."""
    if not only:
        return list(sources)
    wanted = [one.partition("/")[::2] for one in only]
    found = [s for s in sources if any(learner in ("", s.learner) and chapter in ("", s.chapter) for learner, chapter in wanted)]
    if not found:
        raise ValueError(f"nothing handed in is called {' or '.join(only)}; expected LEARNER, LEARNER/NN or /NN")
    return found


def _without_time(sources, when, deadline):
    told = "no time is known for it, so it doesn't count" if deadline else "no time is known for it; it counts as the earliest"
    return [intake.Problem(s.learner, s.place, told) for s in sources if not times.time_of(s.place, when)]


def _against(roster, sources, problems):
    """Who of the class handed in nothing, and who handed in and is not of the class."""
    handed = {source.learner for source in sources}
    heard = handed | {problem.learner for problem in problems}
    absent = [intake.Problem(one, "", "of the roster, and nothing was handed in") for one in roster if one not in heard]
    return absent + [intake.Problem(one, "", "handed in, and is not of the roster") for one in sorted(handed - set(roster))]
