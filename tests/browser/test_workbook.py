"""The workbook as a learner meets it: JupyterLab on a learner's folder, chapters 01 and 06 in a real Chromium.

The pixels are looked at, not only the elements: the robot is there, a click places a joint, a dragged target moves the
arm, and a wrong answer brings up a panel that says what is wrong.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from rigkit.course import lab
from tests import npm
from tests.browser_support import Browser, Lab

pytestmark = [pytest.mark.browser, pytest.mark.slow]

TARGET = np.array([0xD5, 0x5E, 0x00])  # the target's ring, rigkit.words.PALETTE["vermilion"]
DARK = 60  # a pixel whose three numbers add up to less is the scene's ground


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A learner's folder with two wrong answers in it: an elbow on a rib, a solver that asks the package."""
    folder = tmp_path_factory.mktemp("learner")
    lab.prepare(folder, "ada7")
    answer(folder / "01-where-joints-go.ipynb", "def loop_centre(", LOOP_CENTRE)
    answer(folder / "01-where-joints-go.ipynb", "left_shoulder = ...", ELBOW_ON_A_RIB)
    answer(folder / "06-two-bones.ipynb", "def two_bones(", ASKS_THE_PACKAGE)
    return folder


@pytest.fixture(scope="module")
def learner_lab(folder):
    with Lab(folder) as running:
        yield running


@pytest.fixture(scope="module")
def browser():
    with Browser() as running:
        yield running


@pytest.fixture(scope="module")
def chapter_01(learner_lab, browser):
    page = browser.open(learner_lab, "01-where-joints-go.ipynb")
    page.run_all(seconds=280)
    return page


@pytest.fixture(scope="module")
def chapter_06(learner_lab, browser):
    page = browser.open(learner_lab, "06-two-bones.ipynb")
    page.run_all(seconds=280)
    return page


# The fold is the narrowest loop; two loops on towards the shoulder is the next rib. With the learner's own means only.
ELBOW_ON_A_RIB = """
girth = [np.linalg.norm(np.diff(one, axis=0, append=one[:1]), axis=1).sum() for one in loops["left_elbow_sleeve"]]
rib = loops["left_elbow_sleeve"][int(np.argmin(girth)) - 2]
left_shoulder, left_elbow, left_wrist, left_gripper = ..., loop_centre(rib), ..., ...
"""
LOOP_CENTRE = """
def loop_centre(points):
    a, b, c = points[0], points[1:-1], points[2:]
    cross = np.cross(b - a, c - a)
    areas = cross @ cross.sum(axis=0)
    return areas @ (a + b + c) / 3 / areas.sum()
"""

ASKS_THE_PACKAGE = """
def two_bones(root, mid, end, target, pole):
    s = rk.limb.reach(1.0, 1.0)  # any call of the package: closed in this checkpoint
    return mid, end
"""


def answer(path, start, source):
    """Put `source` in place of the cell that begins with `start`, as a learner would type it."""
    notebook = json.loads(path.read_text(encoding="utf-8"))
    cell, = [cell for cell in notebook["cells"] if cell["cell_type"] == "code" and "".join(cell["source"]).startswith(start)]
    cell["source"] = source.strip()
    path.write_text(json.dumps(notebook), encoding="utf-8")


def panel(page, checkpoint):
    """The text of a checkpoint's panel."""
    return page.raw.locator(f"section[aria-label*='{checkpoint}']").last.text_content()


def run_cell(page, text):
    """Run the code cell that holds `text` once more, from the keyboard; return the number of its scene on the page."""
    cell = page.raw.locator(".jp-CodeCell", has_text=text).first
    cell.scroll_into_view_if_needed()
    cell.locator(".cm-content").click()
    page.raw.keyboard.press("Control+Enter")
    cell.locator(".rigkit-scene canvas").wait_for(state="visible")
    page.raw.wait_for_timeout(3000)
    inside = page.raw.locator(".rigkit-scene").evaluate_all("all => all.map(one => one.closest('.jp-CodeCell').innerText)")
    return next(i for i, told in enumerate(inside) if text in told)


def test_robot_is_drawn_in_both_chapters(chapter_01, chapter_06):
    for page, cell in ((chapter_01, "bend_at(sleeve[10].mean(axis=0))"), (chapter_06, "The left arm follows a target")):
        number = run_cell(page, cell)
        pixels = page.still(number)
        lit = (pixels.sum(axis=-1) > DARK).mean()
        assert lit > 0.04, f"only {lit:.1%} of the scene is lit"
        assert len(np.unique(pixels.reshape(-1, 3), axis=0)) > 500, "a shaded robot has many tones"
        page.shot(f"robot-{number}")


def test_a_click_places_a_joint_and_gives_its_code(chapter_01):
    number = run_cell(chapter_01, "Place four joints in the left arm")
    before = chapter_01.still(number)
    box = chapter_01.canvas(number).bounding_box()
    chapter_01.click((box["width"] / 2, box["height"] / 2), number)
    after = chapter_01.still(number)
    codes = chapter_01.raw.locator("textarea").evaluate_all("all => all.map(one => one.value)")
    assert any("left_shoulder = (" in code for code in codes), codes
    assert (np.abs(after - before).sum(axis=-1) > 60).sum() > 20, "the placed joint is to be seen"
    chapter_01.shot("placed")


def test_a_wrong_elbow_is_told_by_how_much_and_which_way(chapter_01):
    told = panel(chapter_01, "01.4")
    assert "mm towards the wrist" in told and "rib" in told, told
    chapter_01.shot("panel-01")


def test_a_dragged_target_moves_the_arm_and_the_numbers(chapter_06):
    number = run_cell(chapter_06, "The left arm follows a target")
    before, told, numbers = chapter_06.still(number), chapter_06.readout(number), chapter_06.number("elbow", number)
    x, y = chapter_06.find(TARGET, number)
    chapter_06.drag((x, y), (x - 60, y - 50), number=number)
    moved = (np.abs(chapter_06.still(number) - before).sum(axis=-1) > 60).mean()
    assert moved > 0.005, f"only {moved:.2%} of the picture changed"
    assert chapter_06.readout(number) != told, "the readout follows"
    assert chapter_06.number("elbow", number) != numbers, "the table follows"
    chapter_06.shot("dragged")


def test_an_answer_by_the_package_is_told_that_the_book_is_closed(chapter_06):
    told = panel(chapter_06, "06.2")
    assert "closed book" in told, told
    chapter_06.shot("panel-06")


def test_checks_that_nobody_tried_say_not_started(chapter_01, chapter_06):
    for page, checkpoint in ((chapter_01, "01.5"), (chapter_06, "06.5")):
        assert "not started" in panel(page, checkpoint)


# What axe-core finds in JupyterLab's own frame, menus and headings of notebooks, none of it in an output of ours.
OF_THE_LAB = {"aria-allowed-attr", "aria-required-children", "empty-table-header", "region"}
LOOK = """async () => {
    const found = await axe.run(document, {resultTypes: ['violations'], elementRef: true});
    return found.violations.flatMap(rule => rule.nodes.map(node => ({
        rule: rule.id, html: node.html.slice(0, 200), ours: Boolean(node.element && node.element.closest('.jp-OutputArea-output'))})));
}"""


@pytest.mark.source("axe-core")
def test_nothing_of_ours_on_a_chapters_page_keeps_people_out(chapter_06):
    """Scenes, panels with sliders and check panels; rules of WCAG 2.2 as axe-core tests them."""
    chapter_06.raw.evaluate((npm.modules(Path(__file__).resolve().parents[1] / "axe") / "axe-core" / "axe.min.js").read_text(encoding="utf-8"))
    found = chapter_06.raw.evaluate(LOOK)
    assert [one for one in found if one["ours"]] == []
    editors = [one for one in found if one["rule"] == "aria-input-field-name" and "cm-content" in one["html"]]  # the cells' editors have no name
    assert {one["rule"] for one in found if one not in editors} <= OF_THE_LAB


def test_scenes_and_sliders_have_names(chapter_06):
    captions = chapter_06.raw.locator(".rigkit-scene canvas").evaluate_all(
        "all => all.map(one => [one.getAttribute('role'), one.getAttribute('aria-label'), one.closest('.rigkit-desk').querySelector('.rigkit-caption').textContent])")
    assert captions and all(role == "img" and told == caption for role, told, caption in captions)
    names = chapter_06.raw.locator(".rigkit-desk [role=slider]").evaluate_all("all => all.map(one => one.getAttribute('aria-label'))")
    assert {"target x, metres", "pole z, metres"} <= set(names) and None not in names


def test_the_keyboard_alone_reaches_and_works_everything_beside_a_scene(chapter_06):
    number = run_cell(chapter_06, "The left arm follows a target")
    desk = chapter_06.raw.locator(".rigkit-desk", has=chapter_06.raw.locator(".rigkit-scene")).nth(number)
    wanted = desk.locator("button, [role=slider], .widget-readout, input").count()
    desk.locator("button").first.focus()
    reached = 1
    while reached <= wanted + 2:
        chapter_06.raw.keyboard.press("Tab")
        if not desk.evaluate("desk => desk.contains(document.activeElement)"):
            break
        reached += 1
    assert reached == wanted, f"Tab stops at {reached} of {wanted} buttons, sliders and numbers"
    before = chapter_06.number("target", number)
    desk.locator("[role=slider]").first.focus()
    for _ in range(5):
        chapter_06.raw.keyboard.press("ArrowRight")
    chapter_06.raw.wait_for_timeout(800)
    assert chapter_06.number("target", number) != before
    desk.get_by_role("button", name="Front", exact=True).focus()
    chapter_06.raw.keyboard.press("Enter")
    chapter_06.raw.wait_for_timeout(800)
    assert chapter_06.readout(number).startswith("front view")


def test_the_console_stays_clean(chapter_01, chapter_06):
    for page in (chapter_01, chapter_06):
        assert page.errors == []
