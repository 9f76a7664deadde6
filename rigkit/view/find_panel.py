"""A game with controls: a question, a clock, and the one control that is meant, found by its outline or by its name."""

import time

import ipywidgets

from rigkit import words
from rigkit.view import marks, outlines
from rigkit.view.panel import Panel
from rigkit.view.pieces import button, note
from rigkit.view.turns import one_at_a_time

SECONDS = 3.0
LIT = words.PALETTE["yellow"]


class FindPanel(Panel):
    """controls: Controls, each with a button; wanted: (question, name of the control that is meant), one after the other.

    A question is read and its clock begins when the learner asks for it. Nothing is counted but for the table.
    """

    def __init__(self, viewer, controls, wanted, clock=time.monotonic):
        self.turn_lock = viewer.turn_lock
        self._viewer, self._clock, self._wanted = viewer, clock, list(wanted)
        self.lines = outlines.lines_of(controls)
        self._places = {control.name: control.position for control in controls}
        for question, name in self._wanted:
            if name not in self.lines:
                raise ValueError(
                    f"{question!r} asks for {name!r}, which is none of the controls; there are: {', '.join(self.lines)}"
                )
        self.found, self.wrong, self._asked, self._since, self._lit = (
            [],
            0,
            False,
            0.0,
            None,
        )
        self._question = ipywidgets.HTML()
        self._next = button(
            "Start", "Show the next question and start the clock", self.ask
        )
        chosen = [
            button(name, f"Take hold of {name}", lambda name=name: self.pick(name))
            for name in self.lines
        ]
        self.widget = ipywidgets.VBox(
            [
                note(
                    f"Find it in {SECONDS:.0f} seconds: click its outline, or press its name. The time is not graded."
                ),
                self._next,
                self._question,
                ipywidgets.HBox(chosen, layout=ipywidgets.Layout(flex_flow="row wrap")),
            ]
        )

    @one_at_a_time
    def ask(self):
        """Show the next question; after the last one, begin again."""
        if len(self.found) == len(self._wanted):
            self.found = []
        self._asked, self.wrong, self._lit, self._since = True, 0, None, self._clock()
        self._tell(f"Take hold of {self._wanted[len(self.found)][0]}.")

    @one_at_a_time
    def pick(self, name):
        """Take hold of a control; ValueError for a name that is not there."""
        if name not in self.lines:
            raise ValueError(
                f"no control here is called {name!r}; there are: {', '.join(self.lines)}"
            )
        self._lit = name
        if not self._asked:
            self._tell(
                f"{name}, at {words.point(self._places[name])} m. Press {self._next.description} for a question."
            )
            return
        if name != self._wanted[len(self.found)][1]:
            self.wrong += 1
            self._tell(
                f"{name} is not it: it stands at {words.point(self._places[name])} m. Look on."
            )
            return
        self.found.append((self._clock() - self._since, self.wrong))
        self._asked = False
        self._tell(f"{name}: found in {_told(*self.found[-1])}.{self._summary()}")

    def _summary(self):
        if len(self.found) < len(self._wanted):
            return ""
        quick = sum(seconds <= SECONDS and not wrong for seconds, wrong in self.found)
        return (
            f" {quick} of {len(self.found)} at once and within {SECONDS:.0f} seconds."
        )

    def _tell(self, text):
        open_question = (
            f"<b>Take hold of {self._wanted[len(self.found)][0]}.</b>"
            if self._asked
            else ""
        )
        self._question.value = f'<div style="min-height:1.6em">{open_question}</div>'
        self._next.description = (
            "Start"
            if not self.found
            else "Again"
            if len(self.found) == len(self._wanted)
            else "Next"
        )
        self._viewer.say(text)
        self._viewer.redraw()

    def click(self, seen):
        """A click picks the outline under it."""
        name = outlines.nearest(
            self.lines,
            self._viewer.eye,
            self._viewer.size,
            self._viewer.eye.pixels(seen, self._viewer.size)[:2],
        )
        if name is not None:
            self.pick(name)
        return name is not None

    def layer(self):
        """The outline that was taken hold of last, wide, with its name."""
        if self._lit is None:
            return marks.Layer()
        every = self.lines[self._lit]
        told = tuple(
            marks.Word(self._lit, tuple(line[0]), LIT, (0, 14), 12)
            for line in every[:1]
        )
        return marks.Layer(
            strokes=tuple(marks.path(line, LIT, outlines.LIT) for line in every),
            words=told,
        )

    def numbers(self):
        """A row for each question that was asked."""
        rows = [
            (question, _told(*self.found[k]))
            for k, (question, _) in enumerate(self._wanted[: len(self.found)])
        ]
        if self._asked:
            rows.append((self._wanted[len(self.found)][0], "look for it"))
        return [*rows, ("questions found", f"{len(self.found)} of {len(self._wanted)}")]


def _told(seconds, wrong):
    return f"{seconds:.1f} seconds" + (f", after {wrong} wrong" if wrong else "")
