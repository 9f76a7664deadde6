"""How far the learner of a folder is: what `rigkit progress` prints and writes."""

from pathlib import Path

from rigkit.course import coursefile, learner
from rigkit.course.overview import overview, page
from rigkit.course.progress import FILE, Progress


def told(folder, html=None):
    """Return the overview of a learner's folder as text; html: where to write it as a page too.

    A folder that belongs to nobody, or a page that can't be written, is a ValueError.
    """
    folder = Path(folder).expanduser()
    who = learner.read(folder)
    if who is None:
        raise ValueError(f"{folder} belongs to no learner yet; `rigkit lab --folder {folder}` lays it out")
    coursefile.use(coursefile.of_folder(folder))
    progress = Progress(folder if (folder / FILE).exists() else None)
    try:
        seen = overview(progress, f"The course, learner {who.id}, variant {who.variant}")
    finally:
        progress.close()
    if html is not None:
        try:
            Path(html).expanduser().write_text(page(seen), encoding="utf-8")
        except OSError as error:
            raise ValueError(f"{html} can't be written ({error.strerror})") from None
    return seen.text
