"""Chapter 06's arm while its target is dragged: Python's share of an event, and the same in a real JupyterLab and Chromium.

`python -m tests.benchmarks view` prints the table of times; the browser's figures stand above it. There is no library to put beside:
the row to compare with is the solver alone. The ordinary run draws a few frames without a browser, and holds what must hold on any
machine: one message a frame. The browser takes half a minute, so it is left out of the ordinary run.
"""

import json
import os
import re
import time
from collections import Counter

import ipywidgets
import numpy as np
import pytest

import rigkit as rk
from rigkit.robot.rig import rigged_tally
from rigkit.view import Viewer
from tests.browser_support import Browser, Lab, notebook

GROUP = "a frame of a drag, chapter 06's arm"
SHOWN = """
target, behind = shoulder + np.array([0.05, -0.20, 0.20]), elbow + np.array([0, 0, -0.30])
viewer.clear()
viewer.look("perspective")
viewer.focus(shoulder, 1.6)
viewer.see_through(True)
viewer.limb(shoulder, elbow, wrist, target, behind, rk.limb.solve)
"""
SET_UP = """
import json, time, ipywidgets, numpy as np, rigkit as rk
from rigkit.view import Viewer
robot = rk.tally()
shoulder, elbow, wrist = (robot.landmarks[f"left_{name}"] for name in ("shoulder", "elbow", "wrist"))
viewer = Viewer(robot)
"""
WATCH = """
spent, sent = [], []
def watched_mouse(kind, seen, mouse=viewer._mouse):
    began, busy = time.perf_counter(), time.thread_time()
    mouse(kind, seen)
    spent.append((kind, time.perf_counter() - began, time.thread_time() - busy))
def watched_send(self, msg, buffers=None, send=ipywidgets.Widget._send):
    sent.append(type(self).__name__)
    return send(self, msg, buffers)
viewer._stage._on_mouse, ipywidgets.Widget._send = watched_mouse, watched_send
"""
TELL = """
moves = [times for kind, *times in spent if kind == "mousemove"]
print("TOLD", json.dumps({"moves": moves, "sent": sent}))
"""
# Counts what is drawn: `frames` holds the time of every picture a canvas was cleared for, `began` when it first held a whole model.
# pythreejs writes a line to the console for each object it tells of a change. With nobody listening that costs little, but Playwright
# listens and takes most of a millisecond for each, so they are left out here.
COUNT = """() => {
console.debug = () => {};
window.frames_drawn = []; window.calls = 0; window.whole = null;
for (const kind of [WebGLRenderingContext, WebGL2RenderingContext]) {
    const clear = kind.prototype.clear, draw = kind.prototype.drawElements;
    kind.prototype.clear = function (...given) { window.frames_drawn.push(performance.now()); window.calls = 0; return clear.apply(this, given); };
    kind.prototype.drawElements = function (...given) {
        if (++window.calls == 8 && window.whole === null) window.whole = performance.now();
        return draw.apply(this, given);
    };
}
}"""
TARGET = (0xD5, 0x5E, 0x00)
SECONDS = 4.0


@pytest.fixture(scope="module")
def scene():
    """A live viewer as chapter 06 shows it, with its target held, and a list of all that it sends; nothing leaves this process."""
    sent, robot = [], rk.tally()
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("RIGKIT_OUTPUT", raising=False)
        patch.setattr(ipywidgets.Widget, "_send", lambda self, msg, buffers=None: sent.append(type(self).__name__))
        viewer = Viewer(robot)
        exec(SHOWN, {"viewer": viewer, "np": np, "rk": rk, **{name: robot.landmarks[f"left_{name}"] for name in ("shoulder", "elbow", "wrist")}})
        viewer._repr_mimebundle_()
        viewer._mouse("mousedown", viewer.target)
        viewer._mouse("mousemove", viewer.target)  # the first one draws the handle larger
        yield viewer, sent
        viewer.close()


def round_the_shoulder(viewer):
    """Points of the target's drag plane on a closed path, one a call, without end."""
    right, up = viewer.eye.axes()[:, 0], viewer.eye.axes()[:, 1]
    start, step = viewer.target, 0
    while True:
        step += 1
        yield start + 0.15 * np.sin(step / 30) * right + 0.10 * (1 - np.cos(step / 23)) * up


@pytest.mark.benchmark(group=GROUP)
def test_one_move_of_the_mouse(benchmark, scene):
    viewer, sent = scene
    path, moves = round_the_shoulder(viewer), []
    sent.clear()
    benchmark(lambda: moves.append(viewer._mouse("mousemove", next(path))))
    told = Counter(sent)
    assert told.pop("InterleavedBuffer") == len(moves), "one binary message a frame"
    assert set(told) <= {"HTML"}, "and of all else only the words, now and then"


@pytest.mark.benchmark(group=GROUP)
def test_the_solver_alone(benchmark, scene):
    panel = scene[0]._panel
    assert benchmark(lambda: rk.limb.solve(*panel.rest, panel.target, panel.pole)).reached


@pytest.mark.benchmark(group="a frame of a drag, all of Tally's rig")
@pytest.mark.parametrize("control,branches", [("left_hand_control", 1), ("centre_body_control", 7)])
def test_one_move_of_the_mouse_with_a_whole_rig(benchmark, control, branches):
    """Rig, skin, outlines and circles; a control of a limb is one message, the body one for each branch of the model."""
    sent = []
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("RIGKIT_OUTPUT", raising=False)
        patch.setattr(ipywidgets.Widget, "_send", lambda self, msg, buffers=None: sent.append(type(self).__name__))
        viewer = Viewer(rigged_tally())
        viewer.rig()
        viewer.pick(control)
        viewer._repr_mimebundle_()
        start, right = viewer.posed.frame(control)[1], viewer.eye.axes()[:, 0]
        viewer._mouse("mousedown", start)
        viewer._mouse("mousemove", start + 0.05 * right)
        steps, moves = iter(range(1, 10**9)), []
        sent.clear()
        benchmark(lambda: moves.append(viewer._mouse("mousemove", start + (0.05 + 0.04 * np.sin(next(steps) / 7)) * right)))
        told = Counter(sent)
        assert told.pop("InterleavedBuffer") == branches * len(moves) and set(told) <= {"HTML"}
        viewer.close()


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.benchmark(group="the same in JupyterLab and Chromium, start to end (its figures stand above)")
def test_a_drag_in_jupyterlab(benchmark, tmp_path, capsys):
    if not benchmark.enabled:
        pytest.skip("takes half a minute: `python -m tests.benchmarks view` measures it; what must hold is held by tests/view and tests/browser")
    notebook(tmp_path / "drag.ipynb", SET_UP, SHOWN + "viewer.show()", WATCH, TELL)
    with Lab(tmp_path) as lab, Browser() as browser:
        page = browser.open(lab, "drag.ipynb")
        page.raw.evaluate(COUNT)
        figures = benchmark.pedantic(measured, args=(page,), rounds=1)
    with capsys.disabled():
        print("\n" + "\n".join(f"{value:9.2f}  {name}" for name, value in figures.items()))
    benchmark.extra_info.update(figures)
    assert figures["binary messages a frame"] == pytest.approx(1.0, abs=0.05) and page.errors == []


WALK = """
from rigkit.robot.rig import rigged_tally
robot = rigged_tally()
walk = rk.motion.walk(robot.rig, "centre_body_control")
viewer = Viewer(robot)
viewer.motion(walk, trails=("left_ankle_joint",), curves={"knee": "left_knee_joint"}, client=%s)
viewer.show()
sent = []
def watched_send(self, msg, buffers=None, send=ipywidgets.Widget._send):
    sent.append(type(self).__name__)
    return send(self, msg, buffers)
ipywidgets.Widget._send = watched_send
"""


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.benchmark(group="Tally's walk played in JupyterLab and Chromium, start to end (its figures stand above)")
@pytest.mark.parametrize("client", [True, False], ids=["by the browser", "by Python"])
def test_a_walk_plays_in_jupyterlab(benchmark, tmp_path, capsys, client):
    if not benchmark.enabled:
        pytest.skip("takes half a minute: `python -m tests.benchmarks view` measures it; what must hold is held by tests/view")
    notebook(tmp_path / "walk.ipynb", SET_UP, WALK % client, 'print("TOLD", json.dumps(sent))')
    with Lab(tmp_path) as lab, Browser() as browser:
        page = browser.open(lab, "walk.ipynb")
        page.raw.evaluate(COUNT)
        figures = benchmark.pedantic(played, args=(page, "by the browser" if client else "by Python"), rounds=1)
    with capsys.disabled():
        print("\n" + "\n".join(f"{value:9.2f}  {name}" for name, value in figures.items()))
    benchmark.extra_info.update(figures)
    assert page.errors == []


def played(page, how):
    """Play the walk for SECONDS; returns the figures by name."""
    page.run_cell(0)
    page.run_cell(1)
    page.still()
    page.press("Play")
    before, began = page.raw.evaluate("window.frames_drawn.length"), time.monotonic()
    page.raw.wait_for_timeout(1000 * SECONDS)
    drawn, seconds = page.raw.evaluate("window.frames_drawn.length") - before, time.monotonic() - began
    page.press("Pause")
    page.run_cell(2)
    told = page.raw.locator(".jp-OutputArea-output", has_text="TOLD").inner_text()
    sent = json.loads(re.search(r"TOLD (\[.*\])", told).group(1))
    return {
        f"pictures drawn a second, {how}": drawn / seconds,
        "messages sent a second": len(sent) / seconds,
        f"processes that wanted one of {os.cpu_count()} processors, mean of the last minute": os.getloadavg()[0],
    }


def measured(page):
    """Show the scene, drag its target for a while, and return the figures by name."""
    page.run_cell(0)
    page.raw.wait_for_timeout(3000)  # a learner reads on
    page.raw.locator(".jp-CodeCell .cm-content").nth(1).click()
    page.raw.wait_for_timeout(1000)  # JupyterLab makes it the active cell
    began = page.raw.evaluate("performance.now()")
    page.raw.keyboard.press("Control+Enter")
    try:
        page.raw.wait_for_function("window.whole !== null", timeout=60_000)
    finally:
        page.shot("bench-shown")
    shown = page.raw.evaluate("window.whole") - began
    page.still()
    page.run_cell(2)
    drawn, seconds = dragged(page)
    page.run_cell(3)
    told = json.loads(re.search(r"TOLD (\{.*\})", page.raw.locator(".jp-OutputArea-output", has_text="TOLD").inner_text()).group(1))
    moves, sent = np.array(told["moves"]), Counter(told["sent"])
    return {
        "seconds from running the cell until the scene is drawn": shown / 1000,
        "ms of Python an event, the least": 1000 * moves[:, 0].min(),
        "ms of Python an event, the median": 1000 * np.median(moves[:, 0]),
        "ms of the processor in it, the median": 1000 * np.median(moves[:, 1]),
        "events handled a second": len(moves) / seconds,
        "pictures drawn a second": drawn / seconds,
        "binary messages a frame": sent["InterleavedBuffer"] / (len(moves) + 1),  # and one at the release
        "messages of words a second": sent["HTML"] / seconds,
        f"processes that wanted one of {os.cpu_count()} processors, mean of the last minute": os.getloadavg()[0],
    }


def dragged(page):
    """Drag the target to and fro for SECONDS; returns the pictures drawn meanwhile and the seconds it took."""
    x, y = page.find(TARGET)
    box = page.canvas().bounding_box()
    mouse = page.raw.mouse
    mouse.move(box["x"] + x, box["y"] + y)
    page.raw.wait_for_timeout(500)
    mouse.down()
    page.raw.wait_for_timeout(300)
    before, began, step = page.raw.evaluate("window.frames_drawn.length"), time.monotonic(), 0
    while time.monotonic() < began + SECONDS:
        step += 1
        mouse.move(box["x"] + x + 60 * np.sin(step / 12), box["y"] + y - 60 * (1 - np.cos(step / 17)))
    drawn, seconds = page.raw.evaluate("window.frames_drawn.length") - before, time.monotonic() - began
    mouse.up()
    page.raw.wait_for_timeout(500)
    return drawn, seconds
