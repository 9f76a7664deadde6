"""Who works in this folder: an id from the instructor, and the variant of the robot that follows from it.

Both stand in learner.toml beside the notebooks; nothing else is known of a
learner, and nothing leaves the machine but what is handed in.
"""

import hashlib
import re
import secrets
import tomllib
from dataclasses import dataclass
from pathlib import Path

from rigkit import __version__

FILE = "learner.toml"
VARIANTS = 99  # variants 1 to 99 belong to learners; 0 is the one printed in the text
_ID = re.compile(r"[A-Za-z0-9_.-]{1,64}")


@dataclass(frozen=True)
class Learner:
    """A learner's id, their variant of the robot (1 to 99), and the version of the course they began with."""

    id: str
    variant: int
    course: str = __version__


def valid_id(learner_id):
    """Return the id when it is one: 1 to 64 letters, digits, - _ or . with at least one letter or digit; else a ValueError.

    >>> valid_id("ada7")
    'ada7'
    >>> valid_id("../ada")
    Traceback (most recent call last):
    ...
    ValueError: learner id '../ada' is not one; use 1 to 64 letters, digits, - _ or ., beginning with a letter or digit
    """
    if not isinstance(learner_id, str) or not _ID.fullmatch(learner_id) or not learner_id[0].isalnum():
        raise ValueError(f"learner id {str(learner_id)[:80]!r} is not one; use 1 to 64 letters, digits, - _ or ., beginning with a letter or digit")
    return learner_id


def variant_of(learner_id):
    """The variant of the robot that belongs to a learner id, 1 to 99; the same everywhere and always.

    >>> variant_of("ada7"), variant_of("ada8")
    (7, 6)
    """
    return 1 + int.from_bytes(hashlib.sha256(valid_id(learner_id).encode("ascii")).digest()[:8], "big") % VARIANTS


def practice_id():
    """An id for somebody who has none, made up at random: "practice-" and six letters or digits."""
    return "practice-" + secrets.token_hex(3)


def read(folder):
    """Return the Learner of a folder, or None when it has no learner.toml. One that can't be read is a ValueError."""
    path = Path(folder) / FILE
    try:
        told = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ValueError(f"{path} can't be read ({error}); delete it and run `rigkit lab` again with --learner and your id") from None
    try:
        who = Learner(valid_id(told["learner"]), int(told["variant"]), str(told.get("course", "")))
    except (KeyError, TypeError, ValueError) as error:
        raise ValueError(f"{path} has no sound learner and variant ({error}); delete it and run `rigkit lab` again") from None
    if not 0 <= who.variant <= VARIANTS:
        raise ValueError(f"{path} names variant {who.variant}; expected 0 to {VARIANTS}: delete the file and run `rigkit lab` again")
    return who


def write(folder, learner_id):
    """Write learner.toml for this id into a folder and return the Learner."""
    who = Learner(valid_id(learner_id), variant_of(learner_id))
    text = (
        "# Who works in this folder. Your id goes with what you hand in; nothing else does.\n"
        f'learner = "{who.id}"\nvariant = {who.variant}  # your robot, the same for the whole course\ncourse = "{who.course}"\n'
    )
    (Path(folder) / FILE).write_text(text, encoding="utf-8")
    return who
