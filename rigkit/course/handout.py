"""A class's copies from its roster: a folder, or a zip to send, for each learner, as `rigkit lab` would lay it out.

The roster is a CSV table with the columns id and name. The id fixes the variant of
the robot. Names stay on the side that hands out: no copy holds one. Done again, it
adds who is new and renews chapters nobody has worked in; no work is overwritten.
"""

import csv
import io
import zipfile
from dataclasses import dataclass
from pathlib import Path

from rigkit.course import coursefile, lab
from rigkit.course.learner import valid_id, variant_of

LIST = "class.csv"


@dataclass(frozen=True)
class Copy:
    """One learner's copy: where it is, their variant of the robot, and how many chapters are new in it."""

    id: str
    name: str
    variant: int
    path: Path
    new: int


def read_roster(path, column="name"):
    """Return {id: name} of a roster, or what another column says. Whatever can't be read is a ValueError that names the line."""
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
        head = text.partition("\n")[0]
        rows = list(csv.reader(io.StringIO(text), delimiter=";" if ";" in head and "," not in head else ",", strict=True))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise ValueError(
            f"{path} can't be read ({getattr(error, 'strerror', None) or error}); expected a CSV table with id and name"
        ) from None
    heads = [cell.strip().lower() for cell in rows[0]] if rows else []
    if "id" not in heads or (column != "name" and column not in heads):
        raise ValueError(f"{path} has the columns {', '.join(heads) or 'none'}; expected id and {column} in its first line")
    found = {}
    for number, row in enumerate(rows[1:], 2):
        if any(cell.strip() for cell in row):
            _add(found, dict(zip(heads, (cell.strip() for cell in row))), column, f"{path}, line {number}")
    if not found:
        raise ValueError(f"{path} names nobody; expected a line for each learner below id,name")
    return found


def hand_out(roster, out, course=None, zipped=False):
    """Lay out a copy for each learner of a roster; return (list of Copy, path of the list of the class).

    roster: {id: name}. out: a folder, made where it is not there. course: path of a course file. zipped: OUT/ID.zip that holds
    the folder rigkit-ID, in place of the folder OUT/ID.
    """
    out, before = Path(out).expanduser(), coursefile.in_use()
    try:
        out.mkdir(parents=True, exist_ok=True)
        done = [(_packed if zipped else _laid)(out, one, name, course) for one, name in roster.items()]
        _write_list(out / LIST, done)
    except OSError as error:
        raise ValueError(f"can't write to {error.filename or out} ({error.strerror}); choose another folder") from None
    finally:
        coursefile.use(before)
    return done, out / LIST


# -- helpers


def _add(found, told, column, where):
    try:
        one = valid_id(told.get("id", ""))
    except ValueError as error:
        raise ValueError(f"{where}: {error}") from None
    if one.lower() in {known.lower() for known in found}:  # where capitals make no difference they would share a folder
        raise ValueError(f"{where}: {one} is there twice; each learner has an id of their own")
    found[one] = told.get(column, "")


def _laid(out, one, name, course):
    who, copied = lab.prepare(out / one, one, course)
    return Copy(one, name, who.variant, out / one, sum(chapter.what == "new" for chapter in copied))


def _packed(out, one, name, course):
    """As _laid, as a zip; one that is there already stays."""
    path = out / f"{one}.zip"
    if path.exists():
        return Copy(one, name, variant_of(one), path, 0)
    made = _laid(out / ".making", one, name, course)
    half = path.with_suffix(".part")
    files = sorted(file for file in made.path.rglob("*") if file.is_file())
    with zipfile.ZipFile(half, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in files:
            archive.write(file, f"rigkit-{one}/{file.relative_to(made.path).as_posix()}")
    for file in files:
        file.unlink()
    for folder in (made.path / ".rigkit", made.path, made.path.parent):
        folder.rmdir()
    half.replace(path)
    return Copy(one, name, made.variant, path, made.new)


def _write_list(path, copies):
    half = path.with_suffix(".part")
    with half.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["id", "name", "variant", "copy"])
        writer.writerows([one.id, one.name, one.variant, one.path.name] for one in copies)
    half.replace(path)
