"""The book in a real Chromium without a network: scenes are drawn, turn, move and tell, from a folder and from one file."""

import numpy as np
import pytest

import rigkit as rk
from rigkit import book
from rigkit.view import limb_pose
from tests.browser_support import FLAGS, image
from tests.settings import chromium

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def out(tmp_path_factory):
    folder = tmp_path_factory.mktemp("book")
    book.build(folder / "site", ["00", "01", "06"])
    book.build(folder / "single", ["06"], single=True)
    return folder


@pytest.fixture(scope="module")
def chrome():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        yield browser
        browser.close()


class Read:
    """A page of the book, with the network off; `asked` are the addresses that it asked for and that are no file or data, `errors` what it complained of."""

    def __init__(self, chrome, path, **options):
        context = chrome.new_context(viewport={"width": 1280, "height": 900}, offline=True, **options)
        self.raw, self.asked, self.errors, self._context = context.new_page(), [], [], context
        self.raw.set_default_timeout(30_000)
        self.raw.on("request", lambda request: None if request.url.startswith(("file:", "data:", "blob:")) else self.asked.append(request.url))
        self.raw.on("console", self._heard)
        self.raw.on("pageerror", lambda error: self.errors.append(str(error)))
        self.raw.goto(path.as_uri())

    def _heard(self, told):
        """Keep what the page complains of; that a software renderer's pixels are slow to read is a note of the driver, not a fault of the page."""
        if told.type in ("error", "warning") and "GPU stall due to ReadPixels" not in told.text:
            self.errors.append(told.text)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._context.close()

    def scene(self, number):
        """A scene, scrolled to and drawn, what it is folded in unfolded."""
        found = self.raw.locator(f'figure[data-scene="{number}"]')
        found.evaluate("node => { for (let up = node; up; up = up.parentElement) if (up.tagName === 'DETAILS') up.open = true; }")
        found.locator(".stage").scroll_into_view_if_needed()
        self.raw.wait_for_function(f"""() => document.querySelector('figure[data-scene="{number}"]').dataset.drawn > 1""")
        return found

    def pixels(self, scene):
        """The picture of a scene as an array (H, W, 3), once it stands."""
        self.raw.wait_for_timeout(400)
        return image(scene.locator("canvas").screenshot())


def ink(pixels):
    """How many pixels are clearly brighter than the scene's ground."""
    return int((pixels.max(axis=2) > 90).sum())


def changed(before, after):
    return int((np.abs(before - after).max(axis=2) > 24).sum())


def test_first_page_shows_the_robot_and_plays_its_walk(out, chrome):
    with Read(chrome, out / "site" / "index.html") as page:
        scene = page.scene(0)
        stands = page.pixels(scene)
        assert ink(stands) > 8000, "no robot"
        page.raw.get_by_role("slider", name="time in the motion, seconds").fill("0.25")
        strides = page.pixels(scene)
        assert changed(stands, strides) > 1500
        assert scene.get_by_role("status").inner_text().startswith("0.25 of 1.00 s") and "foot on the floor" in scene.get_by_role("status").inner_text()
        scene.get_by_role("button", name="Play").click()
        first = float(scene.get_by_role("spinbutton").input_value())
        page.raw.wait_for_timeout(500)
        assert float(scene.get_by_role("spinbutton").input_value()) != first
        scene.get_by_role("button", name="Stop").click()
        assert page.asked == [] and page.errors == []


def test_who_asks_for_less_motion_gets_slow_motion_and_nothing_moves_unasked(out, chrome):
    with Read(chrome, out / "site" / "index.html", reduced_motion="reduce") as page:
        scene = page.scene(0)
        stands = page.pixels(scene)
        page.raw.wait_for_timeout(700)
        assert changed(stands, page.pixels(scene)) == 0
        assert scene.locator("select").evaluate("e => e.options[e.selectedIndex].textContent") == "0.25 times"
        assert page.raw.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    with Read(chrome, out / "site" / "index.html", reduced_motion="no-preference") as page:
        assert page.scene(0).locator("select").evaluate("e => e.options[e.selectedIndex].textContent") == "1 times"


@pytest.mark.parametrize("name", ["site/06-two-bones.html", "single/06-two-bones.html"])
def test_limb_follows_sliders_and_the_mouse_and_the_view_turns(out, chrome, name):
    with Read(chrome, out / name) as page:
        scene = page.scene(0)
        before = page.pixels(scene)
        assert ink(before) > 4000
        told = scene.get_by_role("status").inner_text()
        assert "is on the target" in told
        scene.get_by_role("slider", name="target y, metres").fill("0.8")
        after = page.pixels(scene)
        assert changed(before, after) > 500 and scene.get_by_role("status").inner_text() != told
        assert "0.800" in scene.locator("tr", has_text="target").first.inner_text()
        scene.get_by_role("button", name="Front", exact=True).click()
        front = page.pixels(scene)
        assert changed(after, front) > 2000
        box = scene.locator("canvas").bounding_box()
        page.raw.mouse.move(box["x"] + 60, box["y"] + 60)
        page.raw.mouse.down()
        page.raw.mouse.move(box["x"] + 220, box["y"] + 80, steps=5)
        page.raw.mouse.up()
        turned = page.pixels(scene)
        assert changed(front, turned) > 2000
        scene.locator("canvas").press("ArrowRight")
        assert changed(turned, page.pixels(scene)) > 1000
        assert page.asked == [] and page.errors == []


def test_target_is_dragged_in_the_picture(out, chrome):
    with Read(chrome, out / "site" / "06-two-bones.html") as page:
        scene = page.scene(0)
        page.pixels(scene)
        at = page.raw.evaluate("() => { const s = [...rigkitBook.scenes.values()][0]; return s.seen(s.panel.target); }")
        box, row = scene.locator("canvas").bounding_box(), scene.locator("tr", has_text="target").first
        scale, before = box["width"] / 640, row.inner_text()
        page.raw.mouse.move(box["x"] + at[0] * scale, box["y"] + at[1] * scale)
        page.raw.mouse.down()
        page.raw.mouse.move(box["x"] + at[0] * scale + 50, box["y"] + at[1] * scale - 40, steps=6)
        page.raw.mouse.up()
        page.raw.wait_for_timeout(300)
        assert row.inner_text() != before and "is on the target" in scene.get_by_role("status").inner_text()
        now = page.raw.evaluate("() => { const s = [...rigkitBook.scenes.values()][0]; return s.seen(s.panel.target); }")
        assert np.hypot(now[0] - at[0] - 50 / scale, now[1] - at[1] + 40 / scale) < 2, "the handle stays under the pointer"


def test_solver_of_the_page_is_the_packages(out, chrome):
    """Random limbs, targets and poles, and the awkward ones: elbow and wrist, and what hangs on the bones, within a nanometre."""
    rng = np.random.default_rng(1)
    straight = [[0, 1, 0], [0, 0.7, 0], [0, 0.4, 0]]
    cases = [[*p[:3], p[3], p[4]] for p in rng.normal(size=(200, 5, 3))]
    cases += [[*straight, [0.1, 0.6, 0.1], [0, 0.7, -0.4]], [*straight, [0, 1, 0], [0, 0.7, -0.4]], [*straight, [0, 3, 0], [0, 2, 0]],
              [[0, 0, 0], [0.3, 0, 0.01], [0.6, 0, 0], [0.3, 0.1, 0], [0.6, 0.2, 0]], [[0, 0, 0], [0.3, 0, 0], [0.5, 0, 0.02], [0.05, 0, 0], [0, 1, 0]]]
    told = [[[float(x) for x in point] for point in case] for case in cases]
    with Read(chrome, out / "site" / "06-two-bones.html") as page:
        page.scene(0)
        solved = page.raw.evaluate("cases => cases.map(([r, m, e, t, p]) => { const s = rigkitBook.twoBones([r, m, e], t, p); return [s.mid, s.end]; })", told)
        motions = page.raw.evaluate("cases => cases.map(([r, m, e, t, p]) => { const s = rigkitBook.twoBones([r, m, e], t, p); return rigkitBook.limbMotions([r, m, e], [r, s.mid, s.end], [0, 0, 0]); })", told)
    for case, (mid, end), carried in zip(cases, solved, motions):
        rest, right = np.array(case[:3], float), rk.limb.solve(*case)
        assert np.abs(np.subtract(mid, right.mid)).max() < 2e-8 and np.abs(np.subtract(end, right.end)).max() < 1e-9
        turns = limb_pose.turns(rest, [rest[0], right.mid, right.end])
        shown = np.array(carried).reshape(3, 3, 4)
        bent = np.linalg.norm(np.cross(right.mid - rest[0], right.end - right.mid)) > 1e-4 and np.linalg.norm(np.cross(rest[1] - rest[0], rest[2] - rest[1])) > 1e-4
        if bent:
            assert np.abs(shown[:2, :, :3] - turns).max() < 1e-6


def test_page_tells_the_same_numbers_as_the_viewer(out, chrome):
    from rigkit.view import Viewer

    robot = rk.tally()
    arm = [robot.landmarks[f"left_{name}"] for name in ("shoulder", "elbow", "wrist")]
    viewer = Viewer(robot)
    with Read(chrome, out / "site" / "06-two-bones.html") as page:
        scene = page.scene(0)
        start = page.raw.evaluate("() => { const p = [...rigkitBook.scenes.values()][0].panel; return [p.target, p.pole]; }")
        viewer.limb(*arm, *start, rk.limb.solve)
        for shift in ([0, 0, 0], [0.1, 0.2, -0.05], [0.3, 0.4, 0.3]):
            target = np.add(start[0], shift)
            viewer.target = target
            page.raw.evaluate("target => { const p = [...rigkitBook.scenes.values()][0].panel; p.target = target; p.update(); }", target.tolist())
            rows = scene.locator("table.numbers tr").evaluate_all("rows => rows.map(row => [...row.children].map(cell => cell.textContent))")
            assert rows == [list(row) for row in viewer._panel.numbers()]
            assert scene.get_by_role("status").inner_text() == viewer._panel.told()
    viewer.close()


def test_bent_sleeve_is_told_and_tinted_and_a_joint_placed_from_the_list(out, chrome):
    with Read(chrome, out / "site" / "01-where-joints-go.html") as page:
        scene = page.scene(1)
        before = page.pixels(scene)
        scene.locator("input[type=range]").fill("85")
        after = page.pixels(scene)
        assert "overlap by" in scene.get_by_role("status").inner_text() and changed(before, after) > 2000
        number = page.raw.evaluate("() => JSON.parse(document.getElementById('rigkit-scenes').textContent).scenes.findIndex(s => s.panel?.kind === 'place')")
        scene = page.scene(number)
        scene.get_by_label("loop", exact=True).select_option(index=5)
        assert "on the centre of" in scene.get_by_role("status").inner_text()
        assert scene.locator("textarea").input_value().split("\n")[0].count(",") == 2
        assert page.asked == [] and page.errors == []


def test_pictures_stand_in_where_no_script_runs(out, chrome):
    for name in ("site/06-two-bones.html", "single/06-two-bones.html"):
        with Read(chrome, out / name, java_script_enabled=False) as page:
            picture = page.raw.locator("figure.scene img").first
            picture.scroll_into_view_if_needed()
            page.raw.wait_for_timeout(500)
            assert ink(image(picture.screenshot())) > 3000
            assert page.raw.locator("details.worked[open]").count() == 0 and page.asked == []


def test_no_page_is_wider_than_a_small_window(out, chrome):
    with Read(chrome, out / "site" / "06-two-bones.html") as page:
        for width in (390, 1280):
            page.raw.set_viewport_size({"width": width, "height": 800})
            page.raw.wait_for_timeout(300)
            assert page.raw.evaluate("document.documentElement.scrollWidth") <= width
