"""Roles: which joint is the left elbow, what hinges where, where the plane of symmetry lies.

They are guessed from names, structure and shape (`rigkit.audit.guess`), and a roles file settles what is in doubt:

    [joints]
    left_elbow = "arm_lower.L"       # "" : there is none
    [hinges]
    left_elbow = [1.0, 0.0, 0.0]     # in the world at rest
    [plane]
    point = [0.0, 0.0, 0.0]
    normal = [1.0, 0.0, 0.0]

What has no role is not examined.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rigkit import arguments
from rigkit.audit import rulebook
from rigkit.mirror import Plane

SIDED = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "ball", "toe_end", "eye")
EVERY = ("body", "head", *(f"{side}_{part}" for side in ("left", "right") for part in SIDED))
LIMBS = {
    f"{side}_{mid}": tuple(f"{side}_{part}" for part in chain)
    for side in ("left", "right")
    for mid, chain in {"elbow": ("shoulder", "elbow", "wrist"), "knee": ("hip", "knee", "ankle")}.items()
}


@dataclass(frozen=True, eq=False)
class Roles:
    """joints: role to joint number. hinges: role to axis (3,) in the world at rest. plane: of symmetry, or None.

    source: role to how it was found, "name", "structure", "shape" or "file".
    """

    joints: dict
    hinges: dict
    plane: Plane | None
    source: dict

    def __contains__(self, role):
        return role in self.joints

    def __getitem__(self, role):
        return self.joints[role]

    def limb(self, mid):
        """The three joints of a limb by the role of its middle one, or None where one of them is not known."""
        chain = [self.joints.get(role) for role in LIMBS[mid]]
        return None if None in chain else chain


def settled(guessed, source, names):
    """Return the guessed Roles, corrected by a roles file: None, a path, or its dict.

    Raises ValueError for an unknown table, role or joint (near names are told), and for an axis or plane of another form.
    """
    if source is None:
        return guessed
    given, name = (source, "roles") if isinstance(source, dict) else (rulebook.toml(source), Path(source).name)
    for table, value in given.items():
        if table not in ("joints", "hinges", "plane") or not isinstance(value, dict):
            raise ValueError(f"{name}: {table!r} is not expected; {rulebook.hint(table, ('joints', 'hinges', 'plane'))}")
    joints, how = dict(guessed.joints), dict(guessed.source)
    for role, joint in given.get("joints", {}).items():
        _role(role, f"{name}, [joints]")
        joints.pop(role, None)
        how[role] = "file"
        if joint == "":
            continue
        if joint not in names:
            raise ValueError(f"{name}, [joints]: {role} is {joint!r}, which is no joint here; {rulebook.hint(joint, names)}")
        joints[role] = names.index(joint)
    hinges = dict(guessed.hinges)
    for role, axis in given.get("hinges", {}).items():
        _role(role, f"{name}, [hinges]")
        hinges[role] = arguments.directions(f"{name}, [hinges], {role}", axis)
    return Roles(joints, hinges, _plane(given["plane"], name) if "plane" in given else guessed.plane, how)


def template(roles, names, title):
    """Return the text of a roles file that says what was guessed, for correction."""
    title = " ".join(str(title).split())
    lines = [
        f'# Roles of {_comment(title)}, as guessed. Correct what is wrong; "" says that there is none. What has no role is not examined.',
        "",
        "[joints]",
    ]
    for role in EVERY:
        joint = roles.joints.get(role)
        how = f"by {roles.source.get(role, 'name')}" if joint is not None else "not found"
        lines.append(f"{role} = {quoted(names[joint]) if joint is not None else quoted('')}  # {how}")
    lines += ["", "[hinges]  # axes in the world at rest; a limb that is bent shows its own"]
    lines += [f"{role} = {_numbers(axis)}" for role, axis in roles.hinges.items() if role in EVERY]
    if roles.plane is not None:
        lines += ["", "[plane]  # of symmetry", f"point = {_numbers(roles.plane.point)}", f"normal = {_numbers(roles.plane.normal)}"]
    return "\n".join(lines) + "\n"


def _role(role, place):
    if role not in EVERY:
        raise ValueError(f"{place}: no role is called {role!r}; {rulebook.hint(role, EVERY)}")


def _plane(given, name):
    if set(given) != {"point", "normal"}:
        raise ValueError(f"{name}, [plane] has {', '.join(given) or 'nothing'}; expected point and normal")
    return Plane(given["point"], given["normal"])


def quoted(value):
    """A TOML basic string: letters beyond plain ASCII as they are, what can't be printed escaped."""
    escaped = {'"': '\\"', "\\": "\\\\"}
    return '"' + "".join(escaped.get(c) or (c if c.isprintable() else f"\\U{_scalar(c):08X}") for c in value) + '"'


def _scalar(letter):
    """The letter's number; half a surrogate pair, which TOML can't hold, as the replacement letter."""
    return 0xFFFD if 0xD800 <= ord(letter) <= 0xDFFF else ord(letter)


def _comment(text):
    return "".join(letter if letter.isprintable() else "?" for letter in text)


def _numbers(values):
    return "[" + ", ".join(repr(float(np.round(v, 9)) + 0.0) for v in values) + "]"
