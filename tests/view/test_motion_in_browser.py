"""Motions and findings in a real JupyterLab and a real Chromium: what moves, what is said, and what is sent meanwhile."""

import json
import re
import time

import pytest

from tests.browser_support import Browser, Lab, notebook
from tests.view.test_in_browser import changed

pytestmark = [pytest.mark.browser, pytest.mark.slow]

START = """
import ipywidgets, json, numpy as np, rigkit as rk
from rigkit.audit import Finding, Report
from rigkit.robot.rig import rigged_tally
from rigkit.view import Viewer
robot = rigged_tally()
viewer = Viewer(robot, "Tally walks two rounds.")
viewer.look("side")
viewer.motion(rk.motion.walk(robot.rig, "centre_body_control"), trails=("left_ankle_joint",), curves={"left knee": "left_knee_joint"})
viewer.show()
sent = []
def watched(self, msg, buffers=None, send=ipywidgets.Widget._send):
    sent.append(type(self).__name__)
    return send(self, msg, buffers)
ipywidgets.Widget._send = watched
"""
TELL = """print("TOLD", json.dumps(sent)); sent.clear()"""
FOUND = """
found = [Finding("joint_centre", "fault", "left_elbow_joint", 9.0, 5.0, "mm", "9 mm off", "it bends wrongly", "move it", tuple(robot.landmarks["left_elbow"])),
         Finding("name_counter", "look", "right_ankle_joint", 1.0, 0.0, "counters", "a counter", "it says nothing", "rename it",
                 tuple(robot.landmarks["right_ankle"]))]
other = Viewer(robot, "What the audit found")
other.findings(Report("Tally", tuple(found)))
other.show()
"""


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    folder = tmp_path_factory.mktemp("notebooks")
    notebook(folder / "motion.ipynb", START, FOUND, TELL)
    with Lab(folder) as lab, Browser((1440, 900)) as browser:
        opened = browser.open(lab, "motion.ipynb")
        opened.run_all()
        opened.still()
        yield opened


def sent(page):
    page.run_cell(2)
    told = page.raw.locator(".jp-OutputArea-output", has_text="TOLD").last.inner_text()
    return json.loads(re.search(r"TOLD (\[.*\])", told)[1])


def said(page, view, text):
    """Wait until a scene's readout says so: a busy machine takes its time."""
    page.raw.locator(".jp-OutputArea-output [role=status]").nth(view).filter(has_text=text).wait_for()


def frame(page):
    return int(re.search(r"frame (\d+) of 60", page.readout())[1])


def test_a_motion_is_stepped_scrubbed_and_played_without_a_message_a_frame(page):
    first = page.still()
    page.raw.get_by_role("slider").first.focus()
    for _ in range(6):
        page.raw.keyboard.press("ArrowRight")
    said(page, 0, "frame 6 of 60, 0.20 of 2.00 s: left heel and left toe on the floor")
    assert page.number("on the floor") == "left heel, left toe"
    scrubbed = page.still()
    assert changed(first, scrubbed) > 0.01
    page.shot("motion-scrubbed")
    sent(page)
    began = time.monotonic()
    page.press("Play")
    page.raw.wait_for_timeout(2500)
    page.shot("motion-playing")
    assert page.readout().startswith("playing: frame")
    page.press("Pause")
    seconds = time.monotonic() - began
    page.raw.wait_for_timeout(500)
    messages = sent(page)
    assert changed(scrubbed, page.still()) > 0.005
    playing = messages[: len(messages) - messages[::-1].index("AnimationAction")]  # up to the press that stops it
    assert playing.count("InterleavedBuffer") <= 2 and len(playing) < 10 + 9 * seconds  # words and the slider's place, now and then
    stopped = frame(page)  # by now the browser has said where it stopped
    page.press("One on")
    said(page, 0, f"frame {(stopped + 1) % 61} of 60")
    assert page.errors == []


def test_a_finding_is_chosen_by_the_keyboard_and_the_eye_turns_there(page):
    before = page.still(1)
    assert page.readout(1) == "fault 1 of 2, left_elbow_joint: 9 mm off"
    page.shot("findings-first")
    page.raw.get_by_label("number", exact=True).first.focus()
    page.raw.keyboard.press("ArrowUp")
    said(page, 1, "look 2 of 2, right_ankle_joint: a counter")
    assert changed(before, page.still(1)) > 0.05
    page.shot("findings-second")
    page.raw.get_by_role("button", name="Previous", exact=True).first.focus()
    page.raw.keyboard.press("Enter")
    said(page, 1, "fault 1 of 2, left_elbow_joint: 9 mm off")
    assert page.number("do") == "move it"
    assert page.errors == []
