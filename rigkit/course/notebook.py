"""What a notebook talks to: open_chapter("06") gives the chapter's session, with check, hint, show and the rest.

Everything prints or displays and returns None, so that a cell that ends in a
call shows one thing only. Who learns and which variant is theirs stands in
learner.toml beside the notebook; without one it is variant 0, the one printed
in the text, and progress is kept in memory.
"""

import string
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path

from rigkit.course import chapters, context, coursefile, earlier, handin, judge, learner, telling
from rigkit.course.checkpoint import Call, Case
from rigkit.course.collect import call, closed_line, collect, not_started, shorten_text
from rigkit.course.ideas import meaning
from rigkit.course.overview import overview
from rigkit.course.panel import panel
from rigkit.course.progress import Progress
from rigkit.course.source import closed_calls
from rigkit.words import text_only

_open = {}  # chapter id -> the session now open, so that a second run of the set-up cell closes the first one's viewer

CONVENTIONS = """\
space    right-handed, +Y up; the robot faces +Z, so its left is +X
units    metres; radians in code, degrees in sentences
turns    quaternions (x, y, z, w) of length one; q and -q are the same turn
frames   a point of frame B seen from A is A_from_B @ p_B; read from right to left, neighbours cancel
sides    told by a word, a shape and a colour: cool for the robot's left, warm for its right"""


def open_chapter(chapter_id, folder=None):
    """Return the Session of a chapter.

    chapter_id: "06". folder: where the notebook lies, by default the working
    directory. Run again, it closes the viewer of the session before.
    """
    folder = Path.cwd() if folder is None else Path(folder)
    who, course = learner.read(folder), coursefile.of_folder(folder)
    coursefile.use(course)
    chapter = chapters.get(chapter_id)
    if chapter_id in _open:
        _open.pop(chapter_id).close()
    progress = Progress(folder if who else None)
    session = Session(chapter, context.context(chapter, who.variant if who else 0), progress, _namespace(), folder, who)
    _open[chapter_id] = session
    session._tell_note()
    if course != coursefile.PRINTED:
        telling.say("\n".join(_course_lines(chapter_id, course)))
    return session


class Session:
    """One open chapter in one kernel: what it was handed, its viewer, its checks, its progress."""

    def __init__(self, chapter, context, progress, namespace, folder=Path(), who=None):
        self.chapter, self.learner, self.folder = chapter, who, Path(folder)
        self.robot, self.given, self.variant = chapter.model(context.robot), context.given, context.variant
        self._context, self._progress, self._namespace, self._viewer = context, progress, namespace, None
        self._hinted = {}  # checkpoint id -> the step of its hint that comes next
        self._fresh = not any(name in namespace for one in chapter.checkpoints for name in one.names)

    def __repr__(self):
        return f"chapter {self.chapter.id}, {self.chapter.title}; variant {self.variant}, {len(self.chapter.checkpoints)} checkpoints"

    # -- checks

    def check(self, checkpoint_id):
        """Try the answer to a checkpoint and show its panel."""
        checkpoint = self._checkpoint(checkpoint_id)
        if checkpoint is None:
            return
        try:
            cases = context.cases(checkpoint, self._context)
            record = self._closed_book(checkpoint, self._collect(checkpoint, cases))
            result = judge.judge(checkpoint, record, self._context, cases)
        except KeyboardInterrupt:
            raise _interrupted(checkpoint) from None
        self._progress.attempt(result, earlier.kept(checkpoint, record, self._namespace) if result.outcome == "ok" else None)
        telling.display(panel(result, can_show=checkpoint.show is not None))
        self._tell_note()

    def hint(self, checkpoint_id):
        """Show the hint of a checkpoint, a step (a line of it) at a time; after one attempt of one's own."""
        checkpoint = self._checkpoint(checkpoint_id)
        if checkpoint is None:
            return
        if not self._progress.attempts(checkpoint_id):
            telling.say(f'A hint needs one attempt first: write an answer, even a wrong one, and run check("{checkpoint_id}").')
            return
        self._progress.hint(checkpoint_id)
        steps = checkpoint.hint.split("\n")
        step = self._hinted.get(checkpoint_id, 0)
        self._hinted[checkpoint_id] = min(step + 1, len(steps) - 1)
        more = f'\nhint("{checkpoint_id}") again tells the next step.' if step < len(steps) - 1 else ""
        telling.say(f"Hint {checkpoint_id}: {steps[step]}{more}")

    def show(self, checkpoint_id):
        """Draw the answer to a checkpoint in the chapter's viewer, over a faint copy of the expected one."""
        checkpoint = self._checkpoint(checkpoint_id)
        if checkpoint is None:
            return
        if checkpoint.show is None:
            telling.say(f'Checkpoint {checkpoint_id} has nothing to draw; check("{checkpoint_id}") tells it in numbers.')
            return
        cases = context.cases(checkpoint, self._context)
        record = self._collect(checkpoint, cases)
        if record.outcome != "ok":
            telling.say(f"Checkpoint {checkpoint_id}: {record.outcome}. {record.line}".strip())
            return
        self._draw(checkpoint, record, cases)

    def _draw(self, checkpoint, record, cases):
        answer = judge.shown(checkpoint, record, self._namespace, self._context, cases)
        if answer is None:
            telling.say(f'Checkpoint {checkpoint.id}: there is nothing to draw yet; check("{checkpoint.id}") says why.')
            return
        viewer = self.viewer()
        try:
            checkpoint.show(viewer, answer, self._context)
        except ValueError as error:
            telling.say(f"Checkpoint {checkpoint.id} can't be drawn. {error}")
            return
        viewer.show()

    def trial(self, function, *inputs):
        """Call a function of one's own once and print what it gives; nothing is graded. Says so where a `...` is left in it."""
        if not_started(function):
            telling.say(f"not started: {getattr(function, '__name__', 'the function')} has no body yet")
            return
        tried = call(function, Case("", {f"input {i + 1}": value for i, value in enumerate(inputs)}), 5.0, self._namespace)
        telling.say(telling.told(tried.value) if tried.outcome == "ok" else f"{tried.outcome}: {tried.line}" + telling.none_told(function, tried.line))

    def case(self, checkpoint_id):
        """Return the inputs of the case that the panel tells, by name, to try one's function on: two_bones(**chapter.case("06.2"))."""
        checkpoint = self._checkpoint(checkpoint_id)
        if checkpoint is None:
            return None
        cases = context.cases(checkpoint, self._context)
        record = self._collect(checkpoint, cases)
        return dict(judge.told_case(checkpoint, record, self._context, cases).inputs)

    def earlier(self, checkpoint_id, yours=True):
        """Return the answer to a checkpoint of an earlier chapter, and say whose it is: the learner's own if it passed, else ours.

        A function for one that asks for a function, else a dict of name to value. yours: False takes ours in any case.
        """
        if checkpoint_id not in self.chapter.uses:
            raise ValueError(f"chapter {self.chapter.id} uses the answers to {', '.join(self.chapter.uses) or 'no earlier checkpoint'}; came {checkpoint_id!r}")
        one = chapters.all_checkpoints()[checkpoint_id]
        found = earlier.own(one, self._progress) if yours else None
        whose = "yours, as it passed" if found is not None else "ours; yours has not passed" if yours else "ours, as you asked, for"
        telling.say(f"{', '.join(one.names)}: {whose} {checkpoint_id}")
        return earlier.ours(one, earlier.context_of(checkpoint_id, self._context)) if found is None else found

    def tool(self, name):
        """Return a function that the chapter lends its notebook, by its name; one that no chapter lends is a ValueError."""
        if name not in self.chapter.tools:
            raise ValueError(f"chapter {self.chapter.id} lends {', '.join(self.chapter.tools) or 'no tools'}; came {name!r}")
        return partial(self.chapter.tools[name], self._context)

    # -- seeing

    def viewer(self):
        """Return the chapter's one viewer; made when first asked for."""
        if self._viewer is None:
            from rigkit.view import Viewer
            self._viewer = Viewer(self.robot, caption=f"{self.robot.name}, variant {self.variant}")
        return self._viewer

    def close(self):
        """Close the viewer and the progress file."""
        if self._viewer is not None:
            self._viewer.close()
            self._viewer = None
        self._progress.close()

    # -- thinking

    def predict(self, key, value=..., choices=None):
        """Keep a prediction before anything moves. value: `...` while there is none yet. choices: what there is to choose from, by letter."""
        if value is ... or value is None:
            telling.say("\n".join([f"Prediction {key}: put yours in place of the `...` and run this cell, then go on.", *telling.lettered(choices or ())]))
            return
        told = shorten_text(" ".join(str(value).split()), 200)
        if choices:
            chosen = telling.chosen(told, choices)
            if chosen is None:
                telling.say("\n".join([f"Prediction {key}: {told!r} is none of these.", *telling.lettered(choices)]))
                return
            told = telling.lettered(choices)[chosen].strip()
        first = self._progress.predict(key, told)
        before = "" if first == told else f"   (at first: {first})"
        telling.say(f"Prediction {key}: {told}{before}. It is kept; now look.")

    def explain(self, key, sentence=...):
        """Keep an explanation in the learner's own words; `...` while there is none yet."""
        if sentence is ... or sentence is None:
            telling.say(f"{key}: say it in one sentence of your own, in place of the `...`. Then unfold ours.")
            return
        told = shorten_text(" ".join(str(sentence).split()), 300)
        self._progress.predict(f"{key} explained", told)
        telling.say(f"{key}, in your words: {told}\nIt is kept; now unfold ours and compare.")

    def recall(self, number=None, answer=...):
        """Ask a question from earlier chapters; recall() lists them, recall(1, "b") answers the first."""
        self._question("recall", self.chapter.recall, number, answer)

    def wrap_up(self, number=None, answer=...):
        """Ask a question about this chapter; wrap_up() lists them, wrap_up(1, "b") answers the first."""
        self._question("wrap_up", self.chapter.wrap_up, number, answer)

    def _question(self, kind, questions, number, answer):
        if number is None:
            telling.say("\n\n".join(telling.asked(kind, i + 1, one) for i, one in enumerate(questions)) or "There are no questions here.")
            return
        if type(number) is not int or not 1 <= number <= len(questions):
            telling.say(f"There is no question {number}; there are 1 to {len(questions)}.")
            return
        question = questions[number - 1]
        if answer is ... or answer is None:
            telling.say(telling.asked(kind, number, question))
            return
        chosen = telling.chosen(answer, question[1])
        if chosen is None:
            telling.say(f"Question {number} has the answers {', '.join(string.ascii_lowercase[:len(question[1])])}; came {answer!r}.")
            return
        right = chosen == question[2]
        self._progress.answer(self.chapter.id, kind, number, string.ascii_lowercase[chosen], right)
        telling.say(f"Question {number}, {string.ascii_lowercase[chosen]}) {question[1][chosen]}: {'right' if right else 'not this one'}. {question[3]}")

    # -- looking after

    def ready(self):
        """Say whether everything is there to begin: versions, a fresh kernel, the viewer's libraries."""
        telling.say("\n".join(_ready(self)))

    def conventions(self):
        """Print the convention strip."""
        telling.say(CONVENTIONS)

    def progress(self):
        """Print what has been done so far in this chapter, checkpoint by checkpoint."""
        telling.say("\n".join(_progress_lines(self)))

    def course(self):
        """Show the whole course: what is mastered, what to repeat, and the map of ideas."""
        telling.display(overview(self._progress, f"The course, variant {self.variant}"))
        self._tell_note()

    def word(self, word):
        """Print what a word of the course means: word("pole point")."""
        telling.say(meaning(word))

    def pointers(self):
        """Print where to read again: one line for each claim that was tried and doesn't hold yet."""
        lines = [f"  {one.id}  {claim.text}: {claim.look_at or 'its task'}" for one in self.chapter.checkpoints if self._progress.attempts(one.id)
                 for claim in one.claims if self._progress.best(one.id).get(claim.id, 0) < claim.points]
        tried = any(self._progress.attempts(one.id) for one in self.chapter.checkpoints)
        telling.say("\n".join(["Look again at:", *lines]) if lines else "Every claim that was tried holds." if tried else "Nothing has been tried yet.")

    def hand_in(self):
        """Pack the chapters of this folder into hand-in/LEARNER.zip and say where it is."""
        if self.learner is None:
            telling.say("There is no learner.toml beside this notebook, so nobody to hand in for. "
                 "Close it, run `rigkit lab --learner YOUR-ID`, and work on the copies it lays out.")
            return
        packed = handin.pack(self.folder, self.learner)
        telling.say(f"{handin.told(packed)}\nSave the notebook first if you changed it, then run this cell again; send the file to your instructor.")

    # -- helpers

    def _tell_note(self):
        """Say once what happened to the progress file."""
        if self._progress.note:
            telling.say(self._progress.note)
            self._progress.note = ""

    def _checkpoint(self, checkpoint_id):
        found = next((one for one in self.chapter.checkpoints if one.id == checkpoint_id), None)
        if found is None:
            telling.say(f"There is no checkpoint {checkpoint_id!r} in this chapter; there are: {', '.join(one.id for one in self.chapter.checkpoints)}")
        return found

    def _collect(self, checkpoint, cases):
        """The answer, tried with all closed that grading closes: what the whole chapter closes."""
        try:
            return collect(replace(checkpoint, closed=self.chapter.closed), self._namespace, cases)
        except KeyboardInterrupt:
            raise _interrupted(checkpoint) from None

    def _closed_book(self, checkpoint, record):
        """The record, with values whose cell calls what grading closes told so."""
        if checkpoint.kind == "function" or record.outcome != "ok":
            return record
        calls = closed_calls(record.values, list(self._namespace.get("In", ())), self._namespace, self.chapter.closed)
        told = {name: Call("closed book", None, closed_line(function)) for name, function in calls.items() if record.values[name].outcome == "ok"}
        return replace(record, values={**record.values, **told})


def _interrupted(checkpoint):
    """What stops a cell whose check was interrupted."""
    return KeyboardInterrupt(f"checkpoint {checkpoint.id} was interrupted; nothing was kept")


def _course_lines(chapter_id, course):
    """The course's name, and what it changes in a chapter."""
    changed = coursefile.differences(chapters.get(chapter_id, printed=True), course)
    head = f"Course: {course.name}" if course.name else "A course of its own"
    return [head + (". It differs from the text in:" if changed else ""), *(f"  {line}" for line in changed)]


# -- helpers


def _ready(session):
    import importlib.util

    import numpy
    found = [f"Python {'.'.join(map(str, sys.version_info[:3]))}", f"numpy {numpy.__version__}"]
    wanting = [name for name in ("ipywidgets", "pythreejs", "matplotlib") if importlib.util.find_spec(name) is None]
    lines = ["ready: " + ("Python 3.11 or newer, numpy 2 or newer" if text_only() else ", ".join(found))]
    if wanting:
        lines = [f"not ready: {', '.join(wanting)} can't be found; install rigkit again with pip"]
    lines.append("kernel: fresh" if session._fresh else "kernel: not fresh, it holds answers from before; restart it and run the chapter from the top")
    who = f"learner {session.learner.id}" if session.learner else "no learner.toml here, so the printed robot, and progress until the kernel stops"
    return [*lines, f"robot: variant {session.variant} ({who})"]


def _progress_lines(session):
    rows = session._progress.table(session.chapter.checkpoints)
    wide = max([len(title) for _, title, *_ in rows] + [10])
    lines = [f"Chapter {session.chapter.id}, {session.chapter.title}"]
    read = {checkpoint.id for checkpoint in session.chapter.checkpoints if checkpoint.kind == "text"}
    for one, title, best, points, attempts, hinted in rows:
        tried = "not started" if not attempts else f"{attempts} {'attempt' if attempts == 1 else 'attempts'}" + (", hint taken" if hinted else "")
        tried = "awaits a reader" if attempts and one in read else tried
        lines.append(f"  {one}  {title:<{wide}}  {best!s:>5} of {points:<3} {tried}")
    core = {checkpoint.id for checkpoint in session.chapter.checkpoints if checkpoint.core and checkpoint.kind != "text"}
    earned, points = sum(row[2] for row in rows if row[0] in core), sum(row[3] for row in rows if row[0] in core)
    return [*lines, f"  core: {earned} of {points} points; mastered from 80 %" if points else "  nothing to earn here"]


def _namespace():
    """The names of the notebook, or, outside of one, those of the module that called open_chapter."""
    shell = telling.shell()
    return shell.user_ns if shell is not None else sys._getframe(2).f_globals


