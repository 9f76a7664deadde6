"""A course of one's own, in a TOML file and without Python: which chapters in which order, points, tolerances, colours, dimensions.

    name = "Autumn class"
    chapters = ["00", "01", "06"]     # these, in this order; all where it is left out

    [points]                          # of a claim, by checkpoint and claim
    "01.4.left_elbow" = 3

    [tolerances]                      # in the claim's own unit
    "01.4.left_elbow" = "8 mm"

    [colours]                         # of the sides, for robot, viewer and checks
    left = "#0072B2"

    [robot.forearm]                   # rows of data/tally.toml, only what differs
    value = 0.18
    low = 0.17
    high = 0.19

The file lies beside learner.toml in a learner's folder (`rigkit lab --course FILE` puts it there), and the same file grades
(`rigkit grade --course FILE`). What a course changes in a chapter is told when the chapter is opened, for the text stays as
it is. A tolerance that is only the noise of arithmetic (1e-6 m) can't be changed. `rigkit course FILE` tries a course: every
worked answer must still earn full marks.
"""

import hashlib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from rigkit import words
from rigkit.course import chapters

FILE = "course.toml"
KEYS = ("name", "chapters", "points", "tolerances", "colours", "robot")
MOST = 100  # points of one claim
METRES_IN = {"mm": 1e-3, "m": 1.0}  # a gap is in metres where the unit is a length, else in the unit itself
_TOLERANCE = re.compile(r"([0-9.]+(?:e-?[0-9]+)?) (mm|m|degrees?|%|rad)")
_COLOUR = re.compile(r"#[0-9A-Fa-f]{6}")


@dataclass(frozen=True)
class Course:
    """What a course file changes; `digest` tells one course from another ("" for the course as it is printed).

    chapters: ids in order, empty for all. points: "01.4.left_elbow" to a number. tolerances: the same to "8 mm".
    colours: side to "#rrggbb". robot: name of a row to what differs in it.
    """

    name: str = ""
    chapters: tuple[str, ...] = ()
    points: Mapping[str, int] = field(default_factory=dict)
    tolerances: Mapping[str, str] = field(default_factory=dict)
    colours: Mapping[str, str] = field(default_factory=dict)
    robot: Mapping[str, Mapping] = field(default_factory=dict)
    digest: str = ""


PRINTED = Course()


def read(path):
    """Return the Course of a file. Whatever in it can't be so is a ValueError that names the key, what came and what was expected."""
    path = Path(path)
    try:
        text = path.read_bytes()
        told = tomllib.loads(text.decode("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ValueError(f"{path} can't be read ({getattr(error, 'strerror', None) or error}); expected a course file in TOML") from None
    try:
        return parsed(told, hashlib.sha256(text).hexdigest())
    except ValueError as error:
        raise ValueError(f"{path}: {error}") from None


def parsed(told, digest=""):
    """Return the Course of a file's content, a dict.

    >>> parsed({"name": "Short", "chapters": ["01"], "tolerances": {"01.4.left_elbow": "8 mm"}}).tolerances
    {'01.4.left_elbow': '8 mm'}
    """
    _known(told, KEYS, "")
    course = Course(
        _text(told.get("name", ""), "name"),
        _chapters(told.get("chapters", [])),
        {key: _points(key, value) for key, value in _table(told, "points").items()},
        {key: _new_tolerance(key, value) for key, value in _table(told, "tolerances").items()},
        _colours(_table(told, "colours")),
        _table(told, "robot"),
        digest,
    )
    from rigkit import robot

    robot.changed(course.robot)  # a row that can't be is a ValueError
    return course


_in_use = [PRINTED]


def use(course=PRINTED):
    """Make a course the one of this process: its chapters, colours and robots; without one, the course as it is printed."""
    if course == _in_use[0]:
        return
    from rigkit import robot

    chapters.adapt(lambda chapter: adapted(chapter, course), course.chapters)
    words.colour_sides(course.colours)
    robot.change(course.robot)
    _in_use[0] = course


def in_use():
    """The Course of this process."""
    return _in_use[0]


def of_folder(folder):
    """Return the Course of a learner's folder: its course.toml, or the course as it is printed."""
    path = Path(folder) / FILE
    return read(path) if path.exists() else PRINTED


def adapted(chapter, course):
    """Return a Chapter with the points and tolerances of a course."""
    return replace(chapter, checkpoints=tuple(
        replace(one, claims=tuple(_adapted(f"{one.id}.{claim.id}", claim, course) for claim in one.claims)) for one in chapter.checkpoints))


def differences(chapter, course):
    """Return one line for each claim of a chapter (as it is printed) that a course changes.

    >>> from rigkit.course import chapters
    >>> differences(chapters.get("01"), parsed({"points": {"01.2.round": 2}}))
    ['01.2, a round, evenly spaced loop: its middle: 2 points (the text says 1)']
    """
    lines = []
    for one in chapter.checkpoints:
        for claim in one.claims:
            new = _adapted(f"{one.id}.{claim.id}", claim, course)
            changes = [f"{_counted(new.points)} (the text says {claim.points})"] if new.points != claim.points else []
            changes += [f"within {new.tolerance} (the text says {claim.tolerance})"] if new.tolerance != claim.tolerance else []
            lines += [f"{one.id}, {claim.text}: {', '.join(changes)}"] if changes else []
    return lines


def limit_of(tolerance):
    """The limit of a tolerance as a gap is measured: a length in metres, everything else in its own unit.

    >>> limit_of("8 mm"), limit_of("1.5 degrees")
    (0.008, 1.5)
    """
    number, unit = _split(tolerance)
    return number * METRES_IN.get(unit, 1.0)


# -- helpers


def _adapted(key, claim, course):
    if key in course.points:
        claim = replace(claim, points=course.points[key])
    if key in course.tolerances:
        claim = replace(claim, tolerance=course.tolerances[key], limit=limit_of(course.tolerances[key]))
    return claim


def _counted(points):
    return f"{points} point{'' if points == 1 else 's'}"


def _split(tolerance):
    """(number, unit) of "8 mm", or (None, "")."""
    found = _TOLERANCE.fullmatch(tolerance)
    return (float(found[1]), found[2].removesuffix("s")) if found else (None, "")


def _known(table, keys, where):
    for key in table:
        if key not in keys:
            raise ValueError(f"{where}{key} is no key of a course; expected some of {', '.join(keys)}")


def _table(told, key):
    table = told.get(key, {})
    if not isinstance(table, dict):
        raise ValueError(f"{key} is {table!r}; expected a table, [{key}]")
    return table


def _text(value, key):
    if not isinstance(value, str) or not value.isprintable() or len(value) > 80:
        raise ValueError(f"{key} is {value!r}; expected one line of at most 80 characters")
    return value


def _chapters(value):
    there = chapters.ids(printed=True)
    if not isinstance(value, list) or len(set(map(str, value))) != len(value) or not set(map(str, value)) <= set(there):
        raise ValueError(f"chapters is {value!r}; expected ids, each once, of {', '.join(there)}")
    return tuple(value)


def _claim(key):
    for one in chapters.all_checkpoints(printed=True).values():
        for claim in one.claims:
            if key == f"{one.id}.{claim.id}":
                return claim
    every = chapters.all_checkpoints(printed=True).values()
    near = [f"{one.id}.{claim.id}" for one in every for claim in one.claims if key.startswith(f"{one.id}.")]
    hint = f"expected one of {', '.join(near)}" if near else "`rigkit checkpoints --json` lists checkpoints and claims"
    raise ValueError(f'there is no claim "{key}"; {hint}')


def _points(key, value):
    _claim(key)
    if type(value) is not int or not 0 <= value <= MOST:
        raise ValueError(f'points of "{key}" are {value!r}; expected a whole number from 0 to {MOST}')
    return value


def _new_tolerance(key, value):
    claim = _claim(key)
    if not claim.settable:
        raise ValueError(f'the tolerance of "{key}" can\'t be set: {claim.tolerance or "there is none"}, what arithmetic gives, or a count')
    number, unit = _split(value) if isinstance(value, str) else (None, "")
    wanted = _split(claim.tolerance)[1]
    if number is None or unit != wanted or not number > 0:
        raise ValueError(f'the tolerance of "{key}" is {value!r}; expected a number above 0 and its unit, as "{claim.tolerance}"')
    return value


def _colours(table):
    colours = {side: _colour(side, value) for side, value in table.items()}
    whole = words.OWN_COLOUR | colours
    if len(set(whole.values())) < len(whole):
        raise ValueError(f"colours are {whole}; expected another one for each side")
    return colours


def _colour(side, value):
    if side not in words.SIDES or not isinstance(value, str) or not _COLOUR.fullmatch(value):
        raise ValueError(f"colours.{side} is {value!r}; expected left, right or centre, and a colour as \"#56B4E9\"")
    if words.contrast(value, words.SCENE) < 3.0:  # WCAG 2.2, 1.4.11
        told = f"{words.contrast(value, words.SCENE):.1f}"
        raise ValueError(f"colours.{side} {value} has a contrast of {told} to the scene's ground; expected 3 at least, to be seen on near-black")
    return value.upper()
