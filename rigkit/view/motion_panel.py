"""A motion to play, pause, scrub and step through; it never starts by itself.

While it plays, the browser moves the model (`clip`) and the line over the curves; from here go only the words and the slider's
place, a few times a second. Where the browser can't (a function draws the motion) every picture comes from here, the newest wins.
"""

import threading
import time
from contextvars import copy_context

import ipywidgets

from rigkit.view import curves, marks, moments
from rigkit.view.baked import Timed
from rigkit.view.panel import Panel
from rigkit.view.pieces import button, note
from rigkit.view.turns import one_at_a_time

SPEEDS = (0.25, 0.5, 1.0, 2.0)
WORDS_EVERY = 0.4  # seconds from word to word while the browser plays
PICTURES_EVERY = 0.02  # seconds a picture takes at least where they come from here
DOTS = 3  # frames from dot to dot of a trail
ROOM = 1.2  # of what a travelling motion needs: what comes near the eye grows


class MotionPanel(Panel):
    """baked: a Baked or a Timed. trails: names of joints. before_after: how many moments before and after are drawn faintly, `apart` frames apart.

    charts: Charts at the frames' times. client: whether the browser plays.
    """

    def __init__(self, viewer, baked, trails=(), before_after=0, apart=4, charts=(), client=True):
        self.turn_lock, self._viewer, self.baked = viewer.turn_lock, viewer, baked
        self.trails, self.before_after, self.apart, self.charts = tuple(trails), before_after, apart, list(charts)
        self.client = client and not isinstance(baked, Timed)
        self.frame, self.playing, self.speed, self.loop = 0, False, 1.0, True
        self._clip, self._wake, self._began, self._still_at = None, None, (0.0, 0.0), None
        self.widget = self._controls()
        self._trail = moments.trail_layer(baked, self.trails, DOTS) if self.trails else marks.Layer()
        self._outlines = moments.contact_outlines(baked)
        self._stand()
        self._draw_chart()

    def _controls(self):
        last = len(self.baked) - 1
        self._button = button("Play", "Play the motion from this frame on, or stop it", self._pressed)
        steps = [button(text, told, lambda by=by: self.step(by)) for text, told, by in (
            ("One back", "One frame back", -1), ("One on", "One frame on", 1))]  # fmt: skip
        self._slider = ipywidgets.IntSlider(
            value=0, min=0, max=last, description="frame", tooltip=f"frame of the motion, 0 to {last}",
            layout=ipywidgets.Layout(width="98%"), style={"description_width": "46px"})  # fmt: skip
        self._slider.observe(lambda change: self._slid(change["new"]), names="value")
        self._speed = ipywidgets.Dropdown(
            options=[(f"{s:g} times", s) for s in SPEEDS], value=1.0, description="speed", tooltip="how fast it plays",
            layout=ipywidgets.Layout(width="170px"), style={"description_width": "46px"})  # fmt: skip
        self._speed.observe(lambda change: self._paced(speed=change["new"]), names="value")
        self._loop = ipywidgets.Checkbox(value=True, description="again and again", indent=False, layout=ipywidgets.Layout(width="150px"))
        self._loop.observe(lambda change: self._paced(loop=change["new"]), names="value")
        self._chart = ipywidgets.HTML(layout=ipywidgets.Layout(width="98%"))
        row = ipywidgets.Layout(flex_flow="row wrap")
        told = note("Play it, or move the slider; with the focus on the slider, the arrow keys go from frame to frame.")
        return ipywidgets.VBox(
            [
                told,
                ipywidgets.HBox([self._button, *steps], layout=row),
                self._slider,
                ipywidgets.HBox([self._speed, self._loop], layout=row),
                self._chart,
            ]
        )

    # what a learner does

    def _pressed(self):
        if self.playing:
            self.pause()
        else:
            self.play()

    @one_at_a_time
    def play(self):
        """Play from this frame on; from the start where it is at its end."""
        if self.playing:
            return
        if self._viewer.stage is None:
            raise ValueError("nothing is shown yet, so nothing can play; call viewer.show() first, or viewer.scrub(seconds) for a moment")
        if self.frame == len(self.baked) - 1:
            self._go(0)
        self.playing = True
        self._button.description = "Pause"
        self._start_clock()
        if self._clip:
            self._clip.play(self.baked.times[self.frame], self.speed, self.loop)
        self._draw_chart()
        self._viewer.redraw()
        self._viewer.say(self.told())
        self._wake = threading.Event()
        thread = threading.Thread(target=copy_context().run, args=(self._go_on, self._wake), daemon=True)
        thread.start()

    @one_at_a_time
    def pause(self):
        """Stop at the frame that is shown."""
        if not self.playing:
            return
        now = self._seconds_now()
        self._stop()
        if self._clip:
            self._still_at = time.monotonic()
            self._clip.pause()
        self._go(self.baked.frame_at(now))

    def _stop(self):
        self.playing = False
        self._button.description = "Play"
        if self._wake is not None:
            self._wake.set()
            self._wake = None

    @one_at_a_time
    def step(self, by):
        """Go some frames on or back, and stop there; over the end of a loop it goes on at the start."""
        if self.playing:
            self.pause()
        self._still_at = None  # what the browser says later is no news any more
        last = len(self.baked) - 1
        frame = self.frame + by
        self._go(frame % (last + 1) if self.loop else min(max(frame, 0), last))

    @one_at_a_time
    def go(self, frame):
        """Stop at a frame."""
        if self.playing:
            self._stop()
            if self._clip:
                self._clip.pause()
        self._still_at = None
        self._go(int(frame))

    @one_at_a_time
    def _slid(self, frame):
        if frame != self.frame:
            self.go(frame)

    @one_at_a_time
    def _paced(self, speed=None, loop=None):
        if self.playing:
            seconds = self._seconds_now()
            self.frame = self.baked.frame_at(seconds)
        self.speed = self.speed if speed is None else speed
        self.loop = self.loop if loop is None else loop
        if self.playing:
            self._start_clock()
            if self._clip:
                self._clip.pace(self.speed, self.loop)
            self._draw_chart()

    @one_at_a_time
    def heard(self, seconds):
        """The browser says at what time it stopped: a little later than was reckoned here."""
        if not self.playing and self._still_at is not None and time.monotonic() - self._still_at < 5.0:
            self._still_at = None
            self._go(self.baked.frame_at(seconds))

    # time

    def _start_clock(self):
        self._began = time.monotonic(), float(self.baked.times[self.frame])

    def _seconds_now(self):
        started, seconds = self._began
        now = seconds + self.speed * (time.monotonic() - started)
        return now % self.baked.length if self.loop else min(now, self.baked.length)

    def _go_on(self, wake):
        """Until it stops: words now and then, or every picture where the browser can't."""
        while not wake.wait(WORDS_EVERY if self._clip else PICTURES_EVERY):
            with self.turn_lock:
                if self._wake is not wake:
                    return
                now = self._seconds_now()
                if not self.loop and now >= self.baked.length:
                    self.pause()
                    return
                self.frame = self.baked.frame_at(now)
                if self._clip is None:
                    self._stand(now)
                    self._viewer.redraw()
                self._slider.value = self.frame
                self._viewer.renumber()
                self._viewer.say(self.told(), busy=True)

    # drawing

    def _go(self, frame):
        self.frame = frame
        self._slider.value = frame
        self._stand()
        self._draw_chart()
        self._viewer.redraw()
        self._viewer.say(self.told())

    def _stand(self, seconds=None):
        """Bring the model to the frame, in the browser by its clock."""
        baked, viewer = self.baked, self._viewer
        if isinstance(baked, Timed):
            try:
                baked.move(float(baked.times[self.frame] if seconds is None else seconds))
            except Exception as error:  # the function is the learner's: what stops it belongs below the picture, not in a log
                self._trouble = f"the function that draws the motion stopped: {type(error).__name__}: {error}"
            else:
                self._trouble = ""
        elif self._clip:
            viewer.figure.carry(baked.turns[self.frame], baked.moves[self.frame])
            self._clip.show(self.frame)
        else:
            viewer.carry(baked.turns[self.frame], baked.moves[self.frame])
            viewer.stand()

    _trouble = ""

    def joined(self, stage):
        """The scene is in the browser: let it play there."""
        if not self.client or self._clip is not None:
            return
        viewer = self._viewer
        viewer.carry(*viewer.figure.at_rest())  # the clip begins from rest
        self._clip = stage.begin(self.baked, self.trails, self.heard)
        self._stand()

    def parted(self):
        """No browser plays it now: it stops where it was."""
        if self.playing:
            self._stop()
        self._clip = self._still_at = None

    def left(self):
        """The panel goes: the model stands as it stood here, in the browser's own buffers."""
        if self.playing:
            self._stop()
        if self._clip:
            self._viewer.stage.end()
            self._clip = None
            self._viewer.resend()

    def framing(self):
        """What to look at, and how many metres high, to see the whole way of a motion that travels; None where it stays."""
        if isinstance(self.baked, Timed):
            return None
        middles = self.baked.positions.mean(axis=1)
        low, high = middles.min(axis=0), middles.max(axis=0)
        if max((high - low)[[0, 2]]) < 0.2:
            return None
        target, height = self._viewer.figure.framing()
        across = float(max((high - low)[[0, 2]])) + 0.5 * height
        size = self._viewer.size
        return target + ((low + high) / 2 - middles[0]) * [1, 0, 1], ROOM * max(height, across * size[1] / size[0])

    def layer(self):
        """Trails and outlines of contact; what stands on the floor and the moments around it, where it does not play."""
        found = [self._outlines, self._trail]
        if not self.playing or self._clip is None:
            if self._clip is None and not isinstance(self.baked, Timed):
                found.append(moments.contact_fillings(self.baked, self.frame))
                found.append(moments.trail_dots(self.baked, self.trails, self.frame))
            if self.before_after and not self.playing:
                found.append(moments.around(self.baked, self.frame, self.before_after, self.apart))
        return marks.Layer(*(sum((getattr(layer, kind) for layer in found), ()) for kind in ("glyphs", "strokes", "words", "sheets")))

    def _draw_chart(self):
        if self.curves() is None:
            return
        playing = (self.baked.length / self.speed, self.loop) if self.playing and self._clip else None
        self._chart.value = self.chart(playing)

    def chart(self, playing=None):
        """Curves and bars of contact as SVG text."""
        title = "What stands on the floor, and curves" if self.baked.planted else "Curves over time"
        return curves.svg(self.charts, self.baked.times, self.frame, self.baked.planted, playing, title)

    def curves(self):
        """Curves and bars of contact as they are now."""
        if not self.charts and not self.baked.planted:
            return None
        return curves.Shown(self.charts, self.baked.times, self.frame, self.baked.planted)

    def numbers(self):
        """Rows of the number table."""
        rows = [("frame", f"{self.frame} of {len(self.baked) - 1}"), ("time", f"{self.baked.times[self.frame]:.3f} s")]
        if self.baked.planted:
            labels = list(dict.fromkeys(one.label for one in self.baked.on_floor(self.frame)))
            rows.append(("on the floor", ", ".join(labels) or "nothing"))
        rows += moments.trail_rows(self.baked, self.trails, self.frame) if self.trails else []
        return [*rows, *curves.rows(self.charts, self.baked.times, self.frame)]

    def told(self):
        """Frame, seconds and what touches the floor."""
        if self._trouble:
            return self._trouble
        speed = "" if self.speed == 1 else f" at {self.speed:g} times its speed"
        return f"playing{speed}: {self.baked.told(self.frame)}" if self.playing else self.baked.told(self.frame)
