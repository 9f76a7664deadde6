"""A real JupyterLab and a real Chromium for tests: start, open a notebook, run it, look at it, stop.

    with Lab(folder) as lab, Browser() as browser:
        page = browser.open(lab, "notebook.ipynb")
        page.run_all()
        page.shot("name")

Pictures go to the folder named by RIGKIT_SHOTS, or nowhere.
"""

import json
import os
import secrets
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

import numpy as np

from tests.settings import chromium

# On a machine without a GPU Chromium draws WebGL by SwiftShader (which must be allowed) and the page by itself, as it does for a learner.
# Asking for SwiftShader by name makes it draw the page by that too: 0.1 s more of processor time for each picture of a scene.
FLAGS = [
    "--no-sandbox", "--enable-unsafe-swiftshader", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage",
]
SETTINGS = {"@jupyterlab/apputils-extension:notification": {"checkForUpdates": False, "fetchNews": "false"}}

# JupyterLab shows "idle" for a moment before a notebook has any kernel. What is run in that moment starts a second kernel, and the widgets
# listen to neither: so both are waited for, the kernel's name and its rest.
KERNEL_READY = """() => {
    const [name, indicator] = [".jp-Toolbar-kernelName", ".jp-Notebook-ExecutionIndicator"].map(s => document.querySelector(s));
    return name && indicator && name.innerText.includes("Python") && indicator.dataset.status === "idle";
}"""


class Lab:
    """JupyterLab on `folder`, on a free port, with a clean home; `live` viewers instead of text ones."""

    def __init__(self, folder, environment=None):
        self.folder, self._extra = Path(folder), environment or {}

    def __enter__(self):
        self._home = tempfile.TemporaryDirectory(prefix="rigkit-lab-")
        home = Path(self._home.name)
        settings = home / "app-settings"
        settings.mkdir()
        (settings / "overrides.json").write_text(json.dumps(SETTINGS))
        self.token, port = secrets.token_hex(16), free_port()
        self.url = f"http://127.0.0.1:{port}"
        environment = {k: v for k, v in os.environ.items() if k != "RIGKIT_OUTPUT" and not k.startswith("JUPYTER")}
        environment |= {
            "HOME": str(home), "JUPYTER_CONFIG_DIR": str(home / "config"), "JUPYTER_DATA_DIR": str(home / "data"),
            "JUPYTER_RUNTIME_DIR": str(home / "runtime"), "IPYTHONDIR": str(home / "ipython"), "JUPYTER_WIDGETS_ECHO": "0",
            "PYTHONPATH": os.pathsep.join([str(Path(__file__).resolve().parents[1]), os.environ.get("PYTHONPATH", "")]), **self._extra}
        self._log = (home / "lab.log").open("w")
        self._process = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", "--no-browser", f"--ServerApp.port={port}", f"--IdentityProvider.token={self.token}",
             f"--ServerApp.root_dir={self.folder}", f"--LabApp.app_settings_dir={settings}", "--ServerApp.allow_root=True", "--LabApp.extension_manager=readonly"],
            stdout=self._log, stderr=subprocess.STDOUT, env=environment)
        self._wait(60)
        return self

    def _wait(self, seconds):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                urllib.request.urlopen(f"{self.url}/api/status?token={self.token}", timeout=2).close()
                return
            except OSError:
                if self._process.poll() is not None:
                    break
                time.sleep(0.2)
        raise RuntimeError("JupyterLab did not start:\n" + Path(self._log.name).read_text()[-2000:])

    def __exit__(self, *_):
        self._process.terminate()
        try:
            self._process.wait(15)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._log.close()
        self._home.cleanup()


class Browser:
    """A headless Chromium with software WebGL."""

    def __init__(self, size=(1440, 1000), scale=1):
        self._size, self._scale = size, scale

    def __enter__(self):
        from playwright.sync_api import sync_playwright

        self._playwright = sync_playwright().start()
        self._browser = self._playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        return self

    def open(self, lab, notebook):
        """Open one notebook of the lab, without the side bar; returns a Page."""
        context = self._browser.new_context(viewport={"width": self._size[0], "height": self._size[1]}, device_scale_factor=self._scale)
        return Page(context.new_page(), lab, notebook)

    def __exit__(self, *_):
        self._browser.close()
        self._playwright.stop()


class Page:
    """One notebook in the browser. `raw` is Playwright's page."""

    def __init__(self, raw, lab, notebook):
        self.raw, self.errors, self.dialogs = raw, [], []
        raw.set_default_timeout(30_000)
        raw.on("console", lambda m: self.errors.append(m.text) if m.type == "error" else None)
        raw.on("pageerror", lambda e: self.errors.append(str(e)))
        raw.goto(f"{lab.url}/lab/tree/{notebook}?token={lab.token}&reset")
        raw.wait_for_selector(".jp-Notebook .jp-Cell", state="attached", timeout=60_000)
        raw.wait_for_function(KERNEL_READY, timeout=120_000)
        raw.keyboard.press("Control+B")

    def run_all(self, seconds=120):
        """Run every cell and wait until the last one has run."""
        end = time.monotonic() + seconds
        asked = 0.0
        while time.monotonic() < end:
            self._accept_dialog()
            prompts = self.raw.eval_on_selector_all(".jp-CodeCell .jp-InputPrompt", "found => found.map(e => e.innerText.trim())")
            running, last = any("*" in p for p in prompts), prompts[-1] if prompts else ""
            if asked and not running and any(c.isdigit() for c in last):
                return
            if not running and time.monotonic() - asked > 8:  # a kernel that is still starting drops what it is asked
                self._menu("Run", "runmenu:run-all")
                asked = time.monotonic()
            self.raw.wait_for_timeout(200)
        raise TimeoutError(f"the cells did not finish in {seconds} s: {prompts}")

    def run_cell(self, number, seconds=60):
        """Run one code cell again and wait until it has run."""
        prompt = self.raw.locator(".jp-CodeCell .jp-InputPrompt").nth(number)
        before = prompt.inner_text()
        end, asked = time.monotonic() + seconds, -8.0
        while time.monotonic() < end:
            now = prompt.inner_text()
            if now != before and any(c.isdigit() for c in now):
                return
            if "*" not in now and time.monotonic() - asked > 8:  # a kernel that is still starting drops what it is asked
                self._accept_dialog()
                self.raw.locator(".jp-CodeCell .cm-content").nth(number).click()
                self.raw.keyboard.press("Control+Enter")
                asked = time.monotonic()
            self.raw.wait_for_timeout(100)
        raise TimeoutError(f"cell {number} did not finish in {seconds} s")

    def restart(self):
        """Restart the kernel, and wait until it is ready again."""
        self._menu("Kernel", "kernelmenu:restart")
        self.raw.locator(".jp-Dialog .jp-mod-accept").click()
        self.raw.wait_for_timeout(1000)
        self.raw.wait_for_function(KERNEL_READY, timeout=120_000)

    def _accept_dialog(self):
        """Say yes to a question JupyterLab asks while it opens a notebook (a slow kernel makes it ask); what it asked is kept in `dialogs`."""
        found = self.raw.locator(".jp-Dialog")
        if found.count():
            self.dialogs.append(" ".join(found.first.inner_text().split()))
            found.first.locator(".jp-mod-accept").first.click()

    def _menu(self, name, command):
        self.raw.locator(".lm-MenuBar-itemLabel", has_text=name).first.click()
        self.raw.locator(f".lm-Menu-item[data-command='{command}']").click()

    def canvas(self, number=0):
        """The canvas of the scene `number`, scrolled into view; waits until it is drawn."""
        found = self.raw.locator(".rigkit-scene canvas").nth(number)
        found.wait_for(state="visible")
        found.scroll_into_view_if_needed()
        return found

    def pixels(self, number=0):
        """The canvas as it is on the screen, (H, W, 3) numbers from 0 to 255."""
        return image(self.canvas(number).screenshot())

    def find(self, colour, number=0):
        """Where a colour (r, g, b) is on the canvas: the middle (x, y) of its pixels, or None."""
        y, x = np.nonzero(np.abs(self.pixels(number) - colour).sum(axis=2) < 24)
        return (float(x.mean()), float(y.mean())) if len(x) else None

    def number(self, label, view=0):
        """The value beside `label` in the number table of one scene."""
        rows = self.raw.locator("tr", has=self.raw.locator(f"th:text-is('{label}')"))
        return rows.nth(view).locator("td").inner_text()

    def still(self, number=0, seconds=15):
        """The pixels once two looks in a row are the same."""
        before = self.pixels(number)
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.raw.wait_for_timeout(250)
            now = self.pixels(number)
            if now.shape == before.shape and (now == before).all():
                return now
            before = now
        return before

    def readout(self, view=0):
        """The text of the status line of one scene."""
        return self.raw.locator(".jp-OutputArea-output [role=status]").nth(view).inner_text()

    def drag(self, start, stop, steps=20, number=0, pause=15, between=None):
        """Press at `start`, move to `stop` (x, y in the canvas), release; `between()` runs after the press."""
        box = self.canvas(number).bounding_box()
        mouse = self.raw.mouse
        mouse.move(box["x"] + start[0], box["y"] + start[1])
        self.raw.wait_for_timeout(400)
        mouse.down()
        if between is not None:
            between()
        for i in range(1, steps + 1):
            t = i / steps
            mouse.move(box["x"] + start[0] + t * (stop[0] - start[0]), box["y"] + start[1] + t * (stop[1] - start[1]))
            self.raw.wait_for_timeout(pause)
        mouse.up()
        self.raw.wait_for_timeout(400)

    def fling(self, start, stop, moves, number=0):
        """Send `moves` mouse moves from `start` to `stop` faster than a test can, 8 ms apart, from within the page."""
        self.canvas(number).evaluate(
            """async (canvas, [start, stop, moves]) => {
                const box = canvas.getBoundingClientRect();
                for (let i = 1; i <= moves; i++) {
                    const [x, y] = [0, 1].map(k => start[k] + (stop[k] - start[k]) * i / moves);
                    canvas.dispatchEvent(new MouseEvent('mousemove', {clientX: box.x + x, clientY: box.y + y, bubbles: true, buttons: 1}));
                    await new Promise(done => setTimeout(done, 8));
                }
            }""", [list(start), list(stop), moves])

    def press(self, name, number=0):
        """Press a button of the viewer by its words."""
        self.raw.get_by_role("button", name=name, exact=True).nth(number).click()
        self.raw.wait_for_timeout(400)

    def click(self, at, number=0):
        """Click at (x, y) in the canvas."""
        box = self.canvas(number).bounding_box()
        self.raw.mouse.move(box["x"] + at[0], box["y"] + at[1])
        self.raw.wait_for_timeout(300)
        self.raw.mouse.down()
        self.raw.mouse.up()
        self.raw.wait_for_timeout(500)

    def shot(self, name):
        """Keep a picture of the page where RIGKIT_SHOTS says."""
        if folder := os.environ.get("RIGKIT_SHOTS"):
            Path(folder).mkdir(parents=True, exist_ok=True)
            self.raw.screenshot(path=str(Path(folder) / f"{name}.png"))


def image(png):
    """PNG bytes as an array (H, W, 3)."""
    import io

    from matplotlib.image import imread

    return np.round(imread(io.BytesIO(png), format="png")[..., :3] * 255).astype(int)


def notebook(path, *cells):
    """Write a notebook of code cells."""
    made = {
        "nbformat": 4, "nbformat_minor": 5, "metadata": {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}},
        "cells": [{"cell_type": "code", "id": f"cell-{i}", "metadata": {}, "execution_count": None, "outputs": [], "source": source} for i, source in enumerate(cells)]}
    Path(path).write_text(json.dumps(made))


def free_port():
    """A port nobody listens on now."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]
