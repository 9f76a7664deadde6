"""Motions, findings, weights and curves of a viewer on a page: as numbers, and played in a real Chromium without a network."""

import base64
import re
from dataclasses import replace

import numpy as np
import pytest

import rigkit as rk
from rigkit.book import figures, moving, pages, panels, scenes, site
from rigkit.robot.rig import rigged_tally
from rigkit.view import ramp
from tests.book.test_book_in_browser import Read, changed, chrome  # noqa: F401 (a fixture)


@pytest.fixture(scope="module")
def robot():
    return rigged_tally()


@pytest.fixture(scope="module")
def walk(robot):
    return rk.motion.walk(robot.rig, "centre_body_control")


@pytest.fixture
def viewer(robot):
    made = scenes.Recorder(robot, "Tally walks.")
    yield made
    made.close()


def test_a_motion_on_a_page_carries_every_joint_as_the_rig_does(viewer, walk, robot):
    viewer.motion(walk, trails=("left_ankle_joint",), curves={"knee": "left_knee_joint"})
    viewer.scrub(0.5)
    pool, baked = scenes.Pool(), viewer.panel.baked
    made = panels.described(viewer, pool)
    frames = np.frombuffer(base64.b64decode(made["frames"]), "<f4").reshape(len(baked), made["joints"], 3, 4)
    owners = pool.values[made["owners"]]
    slots = figures.slots(viewer.figure)
    assert len(owners) == len(slots) and made["joints"] < len(baked.names)  # what moves alike is kept once
    for slot, (*_, joint) in enumerate(slots):
        assert np.abs(frames[:, owners[slot], :, :3] - baked.turns[:, joint]).max() < 1e-5
        assert np.abs(frames[:, owners[slot], :, 3] - baked.moves[:, joint]).max() < 1e-5
    assert made["at"] == 15 == viewer.panel.frame and made["said"][15] == baked.told(15) == viewer.said
    rows = dict(map(tuple, pool.values[made["rows"][30]]))
    assert rows["frame"] == "30 of 60" and rows["on the floor"] == "right toe, left heel" and "knee" in rows
    assert "<svg" in made["chart"] and len(made["spots"]) == len(baked.planted)


def test_a_motion_that_a_function_draws_is_a_table_of_its_frames(viewer):
    viewer.motion(lambda t: viewer.lines({"line": [[0, 0, 0], [t, 1, 0]]}), length=1.0, rate=5)
    pool = scenes.Pool()
    made = panels.described(viewer, pool)
    assert made["kind"] == "table" and made["dials"][0]["values"] == [0, 1, 2, 3, 4, 5]
    assert len({tuple(state["marks"]) for state in made["states"]}) == 6 and viewer.panel.frame == 0


def test_findings_on_a_page_each_bring_their_eye(robot):
    skeleton = robot.skeleton
    moved = np.array(skeleton.rest_translations)
    moved[skeleton.index("left_elbow_joint")] += [0, 0, 0.03]
    bad = replace(rk.tally(), skeleton=rk.Skeleton(skeleton.names, skeleton.parents, moved, skeleton.rest_rotations))
    report, viewer, pool = rk.audit.examine(bad), scenes.Recorder(bad), scenes.Pool()
    viewer.findings(report)
    made = panels.described(viewer, pool)
    assert len(made["states"]) == len(made["dials"][0]["options"]) == len(report)
    for state, found in zip(made["states"], report):
        rows = dict(map(tuple, pool.values[state["rows"]]))
        assert rows["do"] == found.do and (found.point is None or state["eye"]["target"] == pytest.approx(found.point, abs=1e-4))
    viewer.close()


def page_of(viewers):
    """A page of the book that shows these scenes, in one file."""
    pool, made = scenes.Pool(), []
    for viewer in viewers:
        one = viewer.described(pool)
        one["panel"] = panels.described(viewer, pool)
        one |= {"rows": pool.values[one["state"]["rows"]], "told": one["state"]["told"]}
        made.append(one)
    recorded = {"pool": pool.values, "scenes": made}
    inside = "\n".join(pages.scene(number, one, lambda number: "none.png") for number, one in enumerate(made))
    scripts = [site._look(), *(site._model(model) for model in pool.models.values()), site.script()]
    tail = "\n".join([site._scenes(recorded), *(f"<script>{pages.in_script(one)}</script>" for one in scripts)])
    return pages.whole("Test", inside, head=f"<style>{(site.ASSETS / 'book.css').read_text(encoding='utf-8')}</style>", tail=tail)


def test_curves_stand_on_a_page_without_a_script(viewer):
    viewer.curves({"angle": [0.0, 30.0]}, unit="degrees")
    assert re.search(r'</table><svg class="rigkit-curves".*angle 0 degrees', page_of([viewer]), re.DOTALL)


@pytest.mark.browser
@pytest.mark.slow
def test_motions_findings_and_weights_work_on_a_page_without_a_network(viewer, walk, robot, chrome, tmp_path):  # noqa: F811
    viewer.look("side")
    viewer.motion(walk, trails=("left_ankle_joint",), curves={"knee": "left_knee_joint"})
    found, weighed = scenes.Recorder(robot, "found"), scenes.Recorder(robot, "weighed")
    report = rk.audit.examine(robot)
    made_up = rk.audit.Finding(
        "joint_centre", "fault", "left_elbow_joint", 9.0, 5.0, "mm", "off", "why", "do", tuple(robot.landmarks["left_elbow"])
    )
    other = replace(made_up, severity="look", where="right_ankle_joint", point=tuple(robot.landmarks["right_ankle"]))
    found.findings(replace(report, findings=(made_up, other)))
    weighed.weights("left_elbow_joint")
    weighed.look("front")
    path = tmp_path / "page.html"
    path.write_text(page_of([viewer, found, weighed]), encoding="utf-8")
    with Read(chrome, path) as page:
        scene = page.scene(0)
        before = page.pixels(scene)
        scene.get_by_role("slider", name="time in the motion, seconds").fill("0.2")
        assert changed(before, page.pixels(scene)) > 2000
        assert scene.locator("[role=status]").inner_text() == "frame 6 of 60, 0.20 of 2.00 s: left heel and left toe on the floor"
        scene.get_by_role("button", name="One on").click()
        assert "frame 7 of 60" in scene.locator("[role=status]").inner_text()
        line = scene.locator("svg .now").get_attribute("transform")
        scene.get_by_role("button", name="Play", exact=True).click()
        page.raw.wait_for_function("text => document.querySelector('svg .now').getAttribute('transform') !== text", arg=line)
        scene.get_by_role("button", name="Stop", exact=True).click()
        assert "frame" in scene.locator("[role=status]").inner_text()
        listed = page.scene(1)
        first = page.pixels(listed)
        listed.get_by_role("listbox").focus()
        page.raw.keyboard.press("ArrowDown")
        assert changed(first, page.pixels(listed)) > 5000
        assert listed.locator("[role=status]").inner_text().startswith("look 2 of 2, right_ankle_joint")
        shown = page.pixels(page.scene(2))
        for share in (0.0, 1.0):
            assert (np.abs(shown - 255 * ramp.colours(share)).max(axis=2) <= 3).sum() > 300
        assert page.asked == [] and page.errors == []
    found.close()
    weighed.close()


def test_joints_that_move_alike_are_one():
    frames = np.zeros((3, 4, 12))
    frames[:, 2] += 1.0
    kinds, of = moving.alike(frames)
    assert kinds.shape == (3, 2, 12) and (kinds[:, of] == frames).all()
