"""Write the book: a folder of pages, or each chapter as one file.

Chapters are recorded side by side, each in a process of its own. The folder holds
`book.json`, which names every file that was written; only a folder with that list,
or an empty one, is written to.
"""

import base64
import json
import os
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from importlib.metadata import distribution
from pathlib import Path

import numpy as np

from rigkit import files, words
from rigkit.book import cells, motion, pages
from rigkit.book.record import smaller
from rigkit.book.scenes import Pool
from rigkit.view import floor, marks, ramp, shaders

ASSETS = Path(__file__).parent / "assets"
SCRIPTS = ("maths.js", "paint.js", "panels.js", "scene.js", "begin.js")
LIST = "book.json"
RAMP = 33  # colours of the ramp of weights, straight between


def build(out, ids=(), single=False, say=lambda line: None):
    """Write the pages; see rigkit.book.build."""
    told = _chapters(ids)
    out = Path(out).expanduser()
    _prepare(out)
    written = {}
    with ThreadPoolExecutor(max(1, min(len(told), os.cpu_count() or 1))) as workers:
        for one, recorded in zip(told, workers.map(recording, told)):
            say(f"chapter {one.id}: {len(recorded['scenes'])} scenes")
            written |= _single(one, recorded) if single else _page(one, recorded, told)
    if not single:
        written |= _site(told)
    _write(out, written)
    return [out / name for name in written]


def recording(told):
    """What a chapter's worked copy shows, from a process of its own."""
    notebook = files.shared("workbooks", "worked", told.file)
    with tempfile.TemporaryDirectory(prefix="rigkit-book-") as folder:
        kept = Path(folder, "recorded.json")
        environment = {**os.environ, "RIGKIT_OUTPUT": "text", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MPLBACKEND": "agg"}
        run = subprocess.run([sys.executable, "-m", "rigkit.book.record", str(notebook), str(kept)], capture_output=True, text=True, env=environment)
        if run.returncode:
            raise ValueError(f"chapter {told.id} could not be run: {run.stderr.strip()[-2000:]}")
        recorded = json.loads(kept.read_text(encoding="utf-8"))
    for scene in recorded["scenes"]:
        scene["rows"] = recorded["pool"][scene["state"]["rows"]]
        scene["told"] = scene["state"]["told"]
    return recorded


def licence():
    """The text of our licence: beside the package in a checkout, with its metadata in an installed wheel."""
    try:
        return files.shared("LICENSE").read_text(encoding="utf-8")
    except FileNotFoundError:
        return distribution("rigkit").read_text("licenses/LICENSE") or ""


def look():
    """What the script needs to draw like the package's own painters: colours, light, the floor."""
    ends, colours = floor.grid()
    axes = marks.joined([floor.lines()], "strokes")
    corners = marks.prisms(axes, 1.0)[:, marks.PRISM_TRIANGLES].reshape(len(axes.starts), -1, 3)
    fine = np.stack([axes.starts, axes.ends], axis=1)
    return {
        "scene": words.SCENE, "palette": words.PALETTE, "axes": words.AXIS_COLOUR, "sides": {side: {"colour": words.SIDE_COLOUR[side], "shape": words.SIDE_SHAPE[side]} for side in words.SIDES},
        "shaders": shaders.surfaces(), "ramp": _flat(ramp.colours(np.linspace(0, 1, RAMP))),
        "floor": {
            "reach": floor.REACH, "thick": floor.THICK, "grid": _flat(ends), "gridColours": _flat(np.repeat(colours[:, None], 2, axis=1)),
            "axes": _flat(corners), "axesColours": _flat(np.repeat(axes.colours[:, None], corners.shape[1], axis=1)),
            "fineAxes": _flat(fine), "fineAxesColours": _flat(np.repeat(axes.colours[:, None], 2, axis=1))}}


# ---- one page --------------------------------------------------------------------------------------------------------


def _inside(told, recorded, picture, links):
    learner, worked = (json.loads(files.shared("workbooks", *folder, told.file).read_text(encoding="utf-8")) for folder in ((), ("worked",)))
    return pages.chapter(told, cells.blocks(learner, worked, recorded["cells"]), recorded, picture, links)


def _page(told, recorded, all_told):
    """A chapter's page and its pictures, name to content."""
    at = all_told.index(told)
    links = (all_told[at - 1] if at else None, all_told[at + 1] if at + 1 < len(all_told) else None)
    inside, nav = _inside(told, recorded, lambda number: f"pictures/{told.id}-{number}.png", links)
    files_of = {f"pictures/{told.id}-{i}.png": base64.b64decode(scene["picture"]) for i, scene in enumerate(recorded["scenes"])}
    files_of |= {f"assets/model-{name}.js": _model(model) for name, model in recorded["models"].items()}
    tail = _tail(recorded, [f"assets/model-{name}.js" for name in recorded["models"]])
    return {pages.page_name(told): pages.whole(_title(told), inside, head=_HEAD, tail=tail, nav=nav, described=told.idea), **files_of}


def _single(told, recorded):
    """A chapter as one file."""
    inside, nav = _inside(told, recorded, lambda number: pages.inline_png(recorded["scenes"][number]["picture"]), None)
    scripts = [_look(), *(_model(model) for model in recorded["models"].values()), script()]
    tail = "\n".join([_scenes(recorded), *(f"<script>{pages.in_script(one)}</script>" for one in scripts)])
    head = f"<style>{(ASSETS / 'book.css').read_text(encoding='utf-8')}</style>"
    return {pages.page_name(told): pages.whole(_title(told), inside, head=head, tail=tail, nav=nav, described=told.idea, home=None)}


def _site(all_told):
    """The first page, the page on what the book is made of, and what all pages share."""
    import rigkit

    pool = Pool()
    walk, picture = motion.walk_scene(pool, rigkit.tally(0))
    walk |= {"rows": pool.values[walk["state"]["rows"]], "told": walk["state"]["told"]}
    recorded = {"pool": pool.values, "scenes": [walk]}
    shown = pages.index(all_told, walk, lambda number: "pictures/walk.png")
    tail = _tail(recorded, [f"assets/model-{name}.js" for name in pool.models])
    return {
        "index.html": pages.whole("Rigging, measured", shown, head=_HEAD, tail=tail, described="A workbook on rigging a hard-surface robot, with measured checks"),
        "about.html": pages.whole("About these pages", pages.about(licence()), head=_HEAD, tail="", described="What these pages are made of"),
        "pictures/walk.png": smaller(picture), "assets/book.css": (ASSETS / "book.css").read_bytes(), "assets/book.js": script(), "assets/look.js": _look(),
        **{f"assets/model-{name}.js": _model(model) for name, model in pool.models.items()}}


_HEAD = '<link rel="stylesheet" href="assets/book.css">'


def script():
    """The script of all pages, as one text."""
    return "(() => {\n\"use strict\";\n" + "\n".join((ASSETS / name).read_text(encoding="utf-8") for name in SCRIPTS) + "})();\n"


def _tail(recorded, models):
    return "\n".join([_scenes(recorded), *(f'<script src="{name}"></script>' for name in ("assets/look.js", *models, "assets/book.js"))])


def _scenes(recorded):
    left_out = ("picture", "rows", "told", "aside")
    return pages.data("rigkit-scenes", {"pool": recorded["pool"], "scenes": [{k: v for k, v in one.items() if k not in left_out} for one in recorded["scenes"]]})


def _look():
    return f"globalThis.rigkitLook = {json.dumps(look(), separators=(',', ':'))};\n"


def _model(model):
    return f"(globalThis.rigkitModels ??= {{}})[{json.dumps(model['name'])}] = {json.dumps(model, separators=(',', ':'))};\n"


def _title(told):
    return f"{told.id} {told.title}"


# ---- files -----------------------------------------------------------------------------------------------------------


def _chapters(ids):
    """The chapters asked for, or all that have notebooks, in order."""
    from rigkit.course import chapters

    found = [chapters.get(one) for one in sorted(set(ids) or chapters.ids())]
    there = [one for one in found if _worked(one)]
    if ids and len(there) < len(found):
        raise ValueError(f"chapter {', '.join(one.id for one in found if one not in there)} has no notebooks yet; build them first")
    return there


def _worked(told):
    try:
        return files.shared("workbooks", "worked", told.file)
    except FileNotFoundError:
        return None


def _prepare(out):
    """Make the folder; ValueError where it holds what we did not write."""
    if out.exists() and not out.is_dir():
        raise ValueError(f"{out} is a file; name a folder for the book")
    if out.exists() and any(out.iterdir()) and not (out / LIST).exists():
        raise ValueError(f"{out} holds other files and no {LIST}; name an empty or a new folder, so that nothing of yours is overwritten")
    out.mkdir(parents=True, exist_ok=True)


def _write(out, written):
    old = json.loads((out / LIST).read_text(encoding="utf-8"))["files"] if (out / LIST).exists() else []
    for name, content in written.items():
        path = out / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
    kept = sorted({*(name for name in old if (out / name).is_file()), *written})
    (out / LIST).write_text(json.dumps({"schema": "rigkit-book-1", "files": kept}, indent=1) + "\n", encoding="utf-8")


def _flat(numbers):
    return [round(float(v), 5) + 0.0 for v in np.ravel(numbers)]
