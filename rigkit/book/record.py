"""Run a worked notebook once and keep what each cell shows: text, panels, and scenes as numbers with a still picture.

    python -m rigkit.book.record NOTEBOOK OUT

It runs in a process of its own, in an IPython shell without a kernel. OUT becomes
JSON: {"cells": [[output, ...], ...], "pool": [...], "models": {...}, "scenes": [...]}; an output is
["text", ...], ["html", ...] or ["scene", number]. A cell that changes a scene shown
earlier without showing it again gets the scene as it is then.
"""

import base64
import io
import json
import os
import sys
import tempfile
from contextlib import redirect_stdout
from pathlib import Path


class CellFault(Exception):
    """A cell of the worked copy stopped with an error."""


def main(notebook, out):
    """Record one notebook."""
    os.environ["RIGKIT_OUTPUT"] = "text"
    told = json.loads(Path(notebook).read_text(encoding="utf-8"))
    sources = ["".join(cell["source"]) for cell in told["cells"] if cell["cell_type"] == "code"]
    out = Path(out).resolve()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["IPYTHONDIR"] = folder
        os.chdir(folder)
        try:
            out.write_text(json.dumps(record(sources)), encoding="utf-8")
        except CellFault as fault:
            print(fault, file=sys.stderr)
            return 1
        finally:
            os.chdir("/")
    return 0


def record(sources):
    """Run cells one after the other; returns what they show (see above)."""
    import rigkit.view
    from rigkit.book import scenes

    rigkit.view.Viewer = scenes.Recorder
    kept, log = _Kept(), []
    shell = _shell(log)
    cells = []
    for number, source in enumerate(sources, 1):
        log.clear()
        with redirect_stdout(_Stream(log)):
            result = shell.run_cell(source, store_history=True)
        error = result.error_before_exec or result.error_in_exec
        if error is not None:
            raise CellFault(f"code cell {number} stopped with {type(error).__name__}: {error}\n{source}")
        cells.append([kept.output(kind, value) for kind, value in log] + kept.followed())
    return {"cells": cells, "pool": kept.pool.values, "models": kept.pool.models, "scenes": kept.scenes}


class _Kept:
    """Scenes written down so far."""

    def __init__(self):
        from rigkit.book.scenes import Pool

        self.pool, self.scenes = Pool(), []

    def output(self, kind, value):
        """One output as plain data."""
        return ["scene", self.scene(value)] if kind == "scene" else [kind, value]

    def scene(self, viewer):
        """Write a viewer's scene down; returns its number."""
        from rigkit.book import panels

        made = viewer.described(self.pool)
        made["picture"] = base64.b64encode(smaller(viewer.picture(beside=False))).decode("ascii")
        made["panel"] = panels.described(viewer, self.pool)
        viewer.shown_as = viewer.fingerprint()
        self.scenes.append(made)
        return len(self.scenes) - 1

    def followed(self):
        """Scenes that were shown before and are another now."""
        from rigkit.book.scenes import Recorder

        return [["scene", self.scene(viewer)] for viewer in list(Recorder.made) if viewer.shown_as not in (None, viewer.fingerprint())]


class _Stream(io.TextIOBase):
    """Printed text goes to the log, joined to what was printed just before."""

    def __init__(self, log):
        self._log = log

    def write(self, text):
        if self._log and self._log[-1][0] == "text":
            self._log[-1] = ("text", self._log[-1][1] + text)
        elif text:
            self._log.append(("text", text))
        return len(text)


def _shell(log):
    """A shell whose displays go to the log."""
    from IPython.core.displayhook import DisplayHook
    from IPython.core.displaypub import DisplayPublisher
    from IPython.core.interactiveshell import InteractiveShell
    from traitlets import Type
    from traitlets.config import Config

    def keep(data):
        from rigkit.book.scenes import SCENE

        for kind, name in ((SCENE, "scene"), ("text/html", "html"), ("text/plain", "text")):
            if kind in data:
                log.append((name, data[kind]))
                return

    class Publisher(DisplayPublisher):
        def publish(self, data, metadata=None, **_):
            keep(data)

    class Hook(DisplayHook):
        def write_output_prompt(self):
            pass

        def write_format_data(self, format_dict, md_dict=None):
            keep(format_dict)

        def finish_displayhook(self):
            pass

    class Shell(InteractiveShell):
        display_pub_class, displayhook_class = Type(Publisher), Type(Hook)

        def enable_gui(self, gui=None):
            pass

    from rigkit.course.panel import Panel

    shell = Shell.instance(config=Config({"HistoryManager": {"enabled": False}}))
    shell.display_formatter.formatters["text/html"].for_type(Panel, lambda panel: panel.html)
    return shell


def smaller(png):
    """A PNG in 256 colours: a third of the bytes, and no difference to see on a near-black ground."""
    from PIL import Image

    made = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("RGB").quantize(256).save(made, "PNG", optimize=True)
    return made.getvalue()


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
