"""What a checkpoint is: claims that are measured, and the mistakes that were planned for.

A checkpoint asks for an answer: a function, values, a choice or a short text,
each under a Python name the learner's notebook defines. Answers are first
collected as plain data (a Record), then judged (a Result). Collecting happens
where the learner's code runs, judging where it can't reach: in the learner's
notebook both are the same process, in grading they are not, and the code is the
same in both.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

OUTCOMES = (
    "ok", "look", "not started", "name missing", "stopped with an error", "took too long", "wrong kind", "wrong shape",
    "not a number", "changed its input", "closed book", "awaits a reader",
)
KINDS = ("function", "value", "choice", "text")


@dataclass(frozen=True)
class Case:
    """One set of inputs a function answer is called with, in order; values have one case with no inputs.

    about: a few words that say what is special here ("nearly straight"). inputs: argument name to value.
    tell: the inputs that a panel names, all of them when empty.
    """

    about: str = ""
    inputs: Mapping[str, Any] = field(default_factory=dict)
    tell: tuple[str, ...] = ()


@dataclass(frozen=True)
class Context:
    """What a check knows of the learner's own variant: its number, the true robot, and what the chapter handed out."""

    variant: int
    robot: Any
    given: Mapping[str, Any]


@dataclass(frozen=True)
class Measure:
    """One claim measured on one case: whether it holds, and the words that tell the gap.

    expected, got: one line each, with units. gap: the measured distance from what is right, in the claim's unit
    (the case with the largest gap is the one shown). proves: a likely cause that the measurement itself proves, or "".
    """

    ok: bool
    expected: str = ""
    got: str = ""
    gap: float = 0.0
    proves: str = ""


@dataclass(frozen=True)
class Claim:
    """One property of an answer, in plain words, with its own tolerance and points.

    measure(case, answer, context) returns a Measure. `answer` is what the function returned, or a dict of name to value.
    needs: the answer names it needs (all of them when empty), so that one missing name costs only its own claims.
    settable: a course may set another tolerance: the claim holds just when the gap is within it (metres for a length, else the unit told);
    `limit` is then the one it set.
    applies(case): whether the claim is measured on this case, so that a call that stops there costs only the claims about it.
    look_at: where in the chapter the idea is explained.
    """

    id: str
    text: str
    points: int
    measure: Callable[[Case, Any, Context], Measure]
    tolerance: str = ""
    needs: tuple[str, ...] = ()
    look_at: str = ""
    applies: Callable[[Case], bool] = lambda case: True
    settable: bool = False
    limit: float | None = None


@dataclass(frozen=True)
class Mistake:
    """A planned mistake: a typical wrong answer as code, what it means, and the claims it must miss.

    answer: for a function checkpoint a function of the same signature; else a function of the Context that returns a
    dict of name to value. diagnosis: one line, printed only when the learner's result is the same as this one's.
    """

    name: str
    answer: Callable
    diagnosis: str
    misses: tuple[str, ...]
    look_at: str = ""


@dataclass(frozen=True)
class Checkpoint:
    """One graded task.

    names: answer name to form (rigkit.course.forms); a function checkpoint has one name, and the form of what it returns.
    cases(rng, context): the inputs; called with a fixed rng in the learner's notebook, with a hidden one in grading.
    worked: the worked answer, as a Mistake's `answer` is. closed: what of the package would hand the answer over, as
    "module.function" or "module". show(viewer, answer, context): draws the answer over a faint copy of the expected one;
    hint: one step a line. `answer` is a dict of name to value (names without a value left out); for a function it is the learner's function itself,
    to be called with inputs of the drawing's own, which also has .case and .value: the case the panel tells, and what it gave there.
    """

    id: str
    title: str
    kind: str
    names: Mapping[str, Callable]
    claims: tuple[Claim, ...]
    worked: Callable
    hint: str
    mistakes: tuple[Mistake, ...] = ()
    cases: Callable = lambda rng, context: [Case()]
    closed: tuple[str, ...] = ()
    show: Callable | None = None
    core: bool = True
    seconds: float = 5.0  # for all cases together

    @property
    def points(self):
        """The points of all claims together."""
        return sum(claim.points for claim in self.claims)


@dataclass(frozen=True)
class Call:
    """What one call, or one name, gave: an outcome ("ok" when there is a value), the value as plain data, and a line about it."""

    outcome: str = "ok"
    value: Any = None
    line: str = ""


@dataclass(frozen=True)
class Record:
    """An answer collected as plain data: a Call for every case (functions) or for every name (everything else).

    outcome: "ok" when there is something to judge, else why not ("not started", "name missing", ...).
    """

    checkpoint: str
    outcome: str = "ok"
    line: str = ""
    calls: tuple[Call, ...] = ()
    values: Mapping[str, Call] = field(default_factory=dict)


@dataclass(frozen=True)
class ClaimResult:
    """A claim after judging: its outcome and points, and for the first failing case the lines of the panel."""

    id: str
    text: str
    points: int
    earned: Fraction
    outcome: str
    tried: str = ""
    expected: str = ""
    got: str = ""
    likely: str = ""
    look_at: str = ""
    mistake: str = ""  # the name of the planned mistake it was recognised as


@dataclass(frozen=True)
class Result:
    """A judged checkpoint."""

    checkpoint: str
    title: str
    outcome: str
    line: str
    claims: tuple[ClaimResult, ...]
    variant: int

    @property
    def earned(self):
        """Points earned, an exact fraction."""
        return sum((claim.earned for claim in self.claims), Fraction(0))

    @property
    def points(self):
        """Points there are."""
        return sum(claim.points for claim in self.claims)


@dataclass(frozen=True)
class Chapter:
    """A chapter: its checkpoints, what its notebook is handed, and the questions at its ends.

    given(robot, variant): name to plain data or arrays, all that the notebook may know. model(robot): the Character the
    notebook works on (chapter 01 hands out one with no joints in it).
    recall, wrap_up: (question, (choices), index of the right one, why) each.
    """

    id: str
    slug: str
    title: str
    minutes: int
    checkpoints: tuple[Checkpoint, ...]
    given: Callable = lambda robot, variant: {}
    model: Callable = lambda robot: robot
    recall: tuple = ()
    wrap_up: tuple = ()
    idea: str = ""  # one line for the table of chapters
    uses: tuple[str, ...] = ()  # checkpoints of earlier chapters whose answers the notebook asks for: chapter.earlier("01.2")
    tools: Mapping[str, Callable] = field(default_factory=dict)  # name to function(context, ...): chapter.tool("audit"); silent while graded

    @property
    def closed(self):
        """What is out of reach while an answer of this chapter is tried: all that its checkpoints close, and the making of the robot."""
        return tuple(sorted({"robot", *(name for one in self.checkpoints for name in one.closed)}))

    @property
    def file(self):
        """The notebook's name, "06-two-bones.ipynb"."""
        return f"{self.id}-{self.slug}.ipynb"
