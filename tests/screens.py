"""Pictures of every scene of the chapters, as a learner sees them in JupyterLab: `python -m tests.screens OUT [06 07 ...]`.

Each chapter's worked copy is opened in a real Chromium at two window sizes and run; each cell that shows a scene is
scrolled to and pictured. OUT gets NN-WIDTHxHEIGHT-CELL.png and errors.txt, what the pages complained of. For looking at; nothing is compared.
"""

import argparse
import shutil
import tempfile
from pathlib import Path

from rigkit import files
from rigkit.course import chapters, lab
from tests.browser_support import Browser, Lab

SIZES = ((1440, 900), (1180, 700))
HAS_SCENE = ".jp-CodeCell:has(.rigkit-scene)"


def take(folder, out, numbers, sizes=SIZES):
    """Picture the scenes of chapters from a learner's folder; returns what the pages complained of, [(chapter, words)]."""
    troubles = []
    with Lab(folder) as running:
        for size in sizes:
            with Browser(size) as browser:
                for number in numbers:
                    page = browser.open(running, chapters.get(number).file)
                    page.run_all(seconds=400)
                    for cell in page.raw.locator(HAS_SCENE).evaluate_all("all => all.map(e => [...document.querySelectorAll('.jp-CodeCell')].indexOf(e))"):
                        _picture(page, cell, out / f"{number}-{size[0]}x{size[1]}-{cell:02}.png")
                    troubles += [(number, words) for words in page.errors]
                    page.raw.context.close()
    return troubles


def _picture(page, cell, path):
    """A picture of one cell's scene. The shared scene shows its newest state everywhere: the cell is run again first."""
    page.run_cell(cell, seconds=180)
    found = page.raw.locator(".jp-CodeCell").nth(cell)
    found.locator(".rigkit-scene canvas").first.wait_for()
    found.locator(".jp-OutputArea-output").last.scroll_into_view_if_needed()
    page.raw.wait_for_timeout(1500)
    page.raw.screenshot(path=str(path))


def main():
    """Read the command line and take the pictures."""
    parser = argparse.ArgumentParser(prog="python -m tests.screens", description=__doc__.split("\n")[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("chapter", nargs="*", default=chapters.ids())
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        lab.prepare(folder, "screens")
        for number in given.chapter:
            name = chapters.get(number).file
            shutil.copy(files.shared("workbooks", "worked", name), Path(folder) / name)
        troubles = take(Path(folder), given.out, given.chapter)
    (given.out / "errors.txt").write_text("".join(f"{number}: {words}\n" for number, words in troubles), encoding="utf-8")
    print(f"{len(list(given.out.glob('*.png')))} pictures in {given.out}, {len(troubles)} complaints in errors.txt")


if __name__ == "__main__":
    main()
