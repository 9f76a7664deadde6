"""From one text a chapter to two notebooks: the learner's copy and the worked copy.

People edit workbooks/text/NN-slug.md only. A cell marked copy="learner" or
copy="worked" goes to that copy alone. Both copies are run with variant 0, plain
text outputs and no progress, and stored so that building twice gives the same
bytes: ids from the content, no times, no versions, no widget state.

    python -m rigkit.course.build            builds all
    python -m rigkit.course.build 06         builds one
    python -m rigkit.course.build --check    changes nothing, names what is out of step
"""

import argparse
import hashlib
import json
import os
import re
import sys
import tempfile
from pathlib import Path

from rigkit.course.guide import checkpoints_page
from rigkit.course.ideas import glossary_page
from rigkit.files import shared

PAGES = {"glossary.md": glossary_page, "guide/checkpoints.md": checkpoints_page}  # made from data and chapters
COPIES = ("learner", "worked")
_UNSTEADY = {
    "an address": re.compile(r"\b0x[0-9a-f]{6,}\b"),
    "rounding noise": re.compile(r"\de-(?:1[3-9]|[2-9]\d|\d{3})\b"),  # another on other processors: round what is printed
    "a path of this machine": re.compile(r"(?:/home/|/root/|/Users/|/tmp/|[A-Z]:\\\\)\S*"),
}
_NOTEBOOK_METADATA = {
    "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
    "language_info": {"file_extension": ".py", "mimetype": "text/x-python", "name": "python"},
}


class OutputFault(Exception):
    """A cell whose output can't be committed: an error, a warning, or something that is another on every run."""


def texts(folder=None, ids=()):
    """Return the paths of the chapters' texts in order; ids limits them to some chapters."""
    folder = Path(folder) if folder else shared("workbooks", "text")
    paths = sorted(folder.glob("[0-9][0-9]-*.md"))
    missing = set(ids) - {path.name[:2] for path in paths}
    if missing:
        raise ValueError(f"there is no text for chapter {', '.join(sorted(missing))} in {folder}")
    return [path for path in paths if not ids or path.name[:2] in ids]


def target(text, copy):
    """Where the copy of a text lies: workbooks/NN-slug.ipynb, or in worked/."""
    workbooks = text.parent.parent
    return (workbooks if copy == "learner" else workbooks / "worked") / f"{text.stem}.ipynb"


def notebook(text, copy, run=True):
    """Return one copy of a text as the bytes of its notebook."""
    import jupytext
    whole = jupytext.read(text, fmt="md")
    cells = [cell for cell in whole.cells if cell.metadata.get("copy", copy) == copy]
    whole.cells = cells
    whole.metadata = dict(_NOTEBOOK_METADATA)
    for cell in cells:
        cell.metadata = _cell_metadata(cell)
    _give_ids(cells)
    whole.nbformat, whole.nbformat_minor = 4, 5
    if run:
        _run(whole, f"{text.name}, {copy} copy")
    return _bytes(_plain(whole))


def build(paths):
    """Write both copies of every text; return the paths that changed."""
    changed = []
    for text in paths:
        for copy in COPIES:
            path, new = target(text, copy), notebook(text, copy)
            if not path.exists() or path.read_bytes() != new:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(new)
                changed.append(path)
    return changed


def build_pages(workbooks=None):
    """Write the pages that are made from data anew where they are out of step; return the paths that changed."""
    workbooks, changed = workbooks or shared("workbooks"), []
    for name, page in PAGES.items():
        path, new = workbooks / name, page().encode("utf-8")
        if not path.exists() or path.read_bytes() != new:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(new)
            changed.append(path)
    return changed


def out_of_step(paths, everything=False, run=True):
    """Return a line for every copy that is not what its text gives.

    everything: name notebooks that have no text too. run: compare the outputs as
    well; without, only what people wrote (fast; nbval compares the outputs).
    """
    lines = []
    for text in paths:
        for copy in COPIES:
            path, new = target(text, copy), notebook(text, copy, run)
            old = path.read_bytes() if path.exists() else b""
            old = old if run else _without_outputs(old)
            if old != new:
                lines.append(f"{path.name} ({copy} copy) is out of step with text/{text.name}: {_first_difference(old, new)}")
    if everything and paths:
        known = {target(text, copy) for text in paths for copy in COPIES}
        workbooks = paths[0].parent.parent
        lines += [f"{path.relative_to(workbooks)} has no text" for path in sorted(workbooks.glob("**/[0-9]*.ipynb"))
                  if path not in known and ".ipynb_checkpoints" not in path.parts]
        pages = PAGES if workbooks == shared("workbooks") else {}
        lines += [f"{name} is out of step" for name, page in pages.items()
                  if not (workbooks / name).exists() or (workbooks / name).read_bytes() != page().encode("utf-8")]
    return lines


def main(arguments=None):
    """Run the command; return its exit code."""
    parser = argparse.ArgumentParser(prog="python -m rigkit.course.build", description="build the notebooks from the chapters' texts")
    parser.add_argument("chapter", nargs="*", help="chapters to build, such as 06; all when none is named")
    parser.add_argument("--check", action="store_true", help="change nothing; name the copies that are out of step")
    options = parser.parse_args(arguments)
    try:
        paths = texts(ids=options.chapter)
        if options.check:
            lines = out_of_step(paths, everything=not options.chapter)
            print("\n".join(lines) or "all copies are in step")
            return 1 if lines else 0
        for path in build(paths) + ([] if options.chapter else build_pages()):
            print(f"wrote {path.relative_to(path.parents[2] if path.parent.name == 'worked' else path.parents[1])}")
        return 0
    except (OutputFault, ValueError) as error:
        print(error, file=sys.stderr)
        return 1


# -- helpers


def _cell_metadata(cell):
    """What of a cell's marks the notebook keeps: tags only."""
    tags = cell.metadata.get("tags")
    return {"tags": list(tags)} if tags else {}


def _give_ids(cells):
    """Ids from the content, so that a new cell changes no other's id."""
    seen = {}
    for cell in cells:
        base = hashlib.sha256(cell.source.encode("utf-8")).hexdigest()[:12]
        seen[base] = seen.get(base, 0) + 1
        cell["id"] = base if seen[base] == 1 else f"{base}-{seen[base]}"


def _run(whole, name):
    """Run the cells in a kernel of their own and keep their text outputs."""
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "RIGKIT_OUTPUT": "text", "IPYTHONDIR": folder, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        work = Path(folder, "work")
        work.mkdir()
        client = NotebookClient(whole, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(work)}}, store_widget_state=False,
                                extra_arguments=["--IPKernelApp.log_level=40"])
        try:
            client.execute(env=environment)
        except CellExecutionError as error:
            raise OutputFault(f"{name}: a cell stopped with an error\n{_without_colours(str(error))}") from None
    for number, cell in enumerate((cell for cell in whole.cells if cell.cell_type == "code"), 1):
        cell.metadata = _cell_metadata(cell)
        cell.outputs = _text_outputs(cell, f"{name}, code cell {number}")
    whole.metadata = dict(_NOTEBOOK_METADATA)


def _text_outputs(cell, place):
    outputs = []
    for output in cell.outputs:
        if output.output_type == "stream":
            if output.name == "stderr":
                raise OutputFault(f"{place} writes to stderr:\n{output.text}")
            if outputs and outputs[-1]["output_type"] == "stream":
                outputs[-1]["text"] += output.text
                continue
            outputs.append({"output_type": "stream", "name": "stdout", "text": output.text})
        elif "text/plain" in output.get("data", {}):
            kept = {"output_type": output.output_type, "data": {"text/plain": output.data["text/plain"]}, "metadata": {}}
            if output.output_type == "execute_result":
                kept["execution_count"] = output.execution_count
            outputs.append(kept)
    for output in outputs:
        text = output["text"] if "text" in output else output["data"]["text/plain"]
        for what, pattern in _UNSTEADY.items():
            found = pattern.search(text)
            if found:
                raise OutputFault(f"{place} prints {what} ({found.group()}), which is another elsewhere:\n{text}")
    return outputs


def _plain(whole):
    """The notebook as plain dicts, texts as lists of lines."""
    def lines(text):
        return text.splitlines(keepends=True)
    cells = []
    for cell in whole.cells:
        plain = {"cell_type": cell.cell_type, "id": cell["id"], "metadata": dict(cell.metadata), "source": lines(cell.source)}
        if cell.cell_type == "code":
            plain["execution_count"] = cell.execution_count
            plain["outputs"] = [
                {**output, "text": lines(output["text"])} if "text" in output
                else {**output, "data": {"text/plain": lines(output["data"]["text/plain"])}} for output in cell.outputs]
        cells.append(plain)
    return {"cells": cells, "metadata": dict(whole.metadata), "nbformat": 4, "nbformat_minor": 5}


def _without_outputs(old):
    """The bytes of a stored notebook as they were before it was run."""
    if not old:
        return old
    stored = json.loads(old)
    for cell in stored["cells"]:
        if cell["cell_type"] == "code":
            cell.update(outputs=[], execution_count=None)
    return _bytes(stored)


def _bytes(plain):
    return (json.dumps(plain, indent=1, ensure_ascii=False, sort_keys=True) + "\n").encode("utf-8")


def _first_difference(old, new):
    if not old:
        return "it is missing"
    old, new = old.decode("utf-8", "replace").splitlines(), new.decode("utf-8").splitlines()
    number = next((i for i, (a, b) in enumerate(zip(old, new)) if a != b), min(len(old), len(new)))
    was = old[number].strip() if number < len(old) else "the end"
    becomes = new[number].strip() if number < len(new) else "the end"
    return f"line {number + 1} is {was[:80]} and should be {becomes[:80]}"


def _without_colours(text):
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


if __name__ == "__main__":
    sys.exit(main())
