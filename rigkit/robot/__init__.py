"""Tally, the robot of the workbook: built from a table of dimensions, the same on both sides bit for bit.

`data/tally.toml` gives every dimension with its range, and `rigkit.robot.dimensions` what a variant
takes from it. `rigkit.robot.layout` turns the measures into points, `rigkit.robot.body` and `rigkit.robot.limbs` build the parts on them; here the right side is
mirrored from the left, and the skeleton is put together.

`python -m rigkit.robot --write` writes the true joints of some variants to
data/tally_landmarks.csv; `--check` says whether that file is in step.
"""

import argparse
from dataclasses import replace
from functools import lru_cache

import numpy as np

from rigkit import files, mirror, rotation
from rigkit.character import Character
from rigkit.robot import body, dimensions, limbs
from rigkit.robot.dimensions import changed, measures, number_of, table
from rigkit.robot.layout import FINGERS, HOSE_RIBS, layout, practice_layout
from rigkit.robot.shapes import reflected, unit
from rigkit.skeleton import Skeleton

SECTIONS = (
    body.body, body.head, body.eye, body.hose, limbs.arm, limbs.hand, limbs.leg, limbs.foot,
)
LISTED = range(4)  # variants whose landmarks the data file holds
__all__ = ["change", "changed", "landmarks_text", "main", "measures", "practice_limb", "table", "tally"]
CENTRE = ("body", "head", "lantern", "hose")


def tally(variant=0):
    """Return Tally, a `Character` in its rest pose: standing on y = 0, facing +Z, symmetric about x = 0, metres.

    variant: 0 is the robot printed in the workbook, with the table's values; any
    greater whole number another one of the same build. The same number always gives
    the same robot. Hinges: a positive turn bends elbow, knee and finger further and
    turns foot and toes down. Joint frames of limbs have x along the bone and z on the
    hinge; on the right they are the matched ones (`rigkit.mirror`), so that equal turns
    give mirror-image poses and x points back along the bone. Body, head and eyes stand like the world.

    Raises ValueError for a variant that is no whole number or below zero.

    >>> robot = tally()
    >>> robot.landmarks["left_elbow"].round(3), len(robot.skeleton.names)
    (array([ 0.237,  0.646, -0.006]), 46)
    """
    return _tally(number_of(variant))


def practice_limb(variant=0):
    """Return the practice limb, a `Character`: two tubes and a sleeve, perfectly straight, hanging along -Y at x = 0.

    Its bones are as long as upper arm and forearm of the same variant of Tally. The
    flat of its fold looks to +Z: its elbow belongs behind the line, at -Z. Landmarks
    practice_shoulder, practice_elbow and practice_wrist; hinge practice_elbow.

    Raises ValueError for a variant that is no whole number or below zero.

    >>> limb = practice_limb()
    >>> limb.landmarks["practice_shoulder"].round(3), limb.landmarks["practice_wrist"].round(3)
    (array([0.  , 0.45, 0.  ]), array([0.   , 0.102, 0.   ]))
    """
    return _practice_limb(number_of(variant))


def change(rows):
    """Build all robots from now on with other rows of the table (`rigkit.robot.dimensions.changed`); {} is the printed one."""
    dimensions.change(rows)
    _tally.cache_clear()
    _practice_limb.cache_clear()


# ---- building -------------------------------------------------------------------------------------------------


@lru_cache(maxsize=128)  # every variant of a class, 0.7 MB each
def _tally(variant):
    m = measures(variant)
    plan = layout(m)
    made, loops = _parts(SECTIONS, m, plan)
    landmarks = {_named(name): point for name, point in plan.points.items()} | _sole_points(plan, made)
    hinges = {_named(name): axis for name, axis in plan.hinges.items()}
    landmarks |= {mirror.names(name): point * [-1.0, 1.0, 1.0] for name, point in landmarks.items() if _left(name)}
    hinges |= {mirror.names(name): axis * [1.0, -1.0, -1.0] for name, axis in hinges.items() if _left(name)}
    loops |= {mirror.names(name): (mirror.names(part), numbers) for name, (part, numbers) in loops.items() if _left(name)}
    return Character(
        name=f"Tally, variant {variant}",
        skeleton=_skeleton(landmarks, hinges),
        parts=[*made, *(_mirrored(part) for part in made if _left(part.name))],
        landmarks=landmarks,
        hinges=hinges,
        loops=loops,
    )


@lru_cache(maxsize=16)
def _practice_limb(variant):
    m = measures(variant)
    plan = practice_layout(m)
    made, loops = _parts([limbs.practice], m, plan)
    names = ("practice_shoulder", "practice_elbow", "practice_wrist")
    turn = rotation.from_matrix(_frame(plan.points[names[1]] - plan.points[names[0]], plan.hinges[names[1]]))
    positions = np.array([plan.points[name] for name in names])
    return Character(
        name=f"practice limb, variant {variant}",
        skeleton=_from_world([f"centre_{name}_joint" for name in names], [-1, 0, 1], np.tile(turn, (3, 1)), positions),
        parts=made,
        landmarks=plan.points,
        hinges=plan.hinges,
        loops=loops,
    )


def _parts(sections, m, plan):
    """All parts of the sections, and their loops: landmark to (part name, vertex numbers)."""
    found = [pair for section in sections for pair in section(m, plan)]
    return [part for part, _ in found], {landmark: (part.name, loop) for part, loops in found for landmark, loop in loops.items()}


def _sole_points(plan, made):
    """Where the sole ends: its heel, toe, inner and outer point, on the floor, in the foot's own frame the farthest that way."""
    foot = plan.places["foot"]
    shells = [part.mesh.vertices for part in made if part.name in ("left_heel_block", "left_toe_cap")]
    on_floor = np.concatenate([v[v[:, 1] == 0.0] for v in shells])
    across, along = (on_floor - foot.origin) @ foot.u, (on_floor - foot.origin) @ foot.w
    widest = along[across >= across.max() - 1e-9].mean()
    heel, toe = foot.at(s=along.min()), foot.at(s=along.max())
    inner, outer = foot.at(a=across.min(), s=widest), foot.at(a=across.max(), s=widest)
    return {"left_heel": heel, "left_sole_toe": toe, "left_sole_inner": inner, "left_sole_outer": outer}


def _mirrored(part):
    return replace(part, name=mirror.names(part.name), mesh=reflected(part.mesh), joints=tuple(map(mirror.names, part.joints)))


# ---- skeleton -------------------------------------------------------------------------------------------------


def _skeleton(landmarks, hinges):
    names, parents, turns, positions = [], [], [], []
    for landmark, parent, towards in _tree():
        names.append(_joint(landmark))
        parents.append(names.index(_joint(parent)) if parent else -1)
        positions.append(landmarks[landmark])
        turns.append(_rest_turn(landmark, towards, landmarks, hinges))
    return _from_world(names, parents, turns, positions)


def _tree():
    """Every joint as (landmark, parent landmark, (from, to) landmarks that its bone runs between), parents first."""
    rows = [("body", None, None), ("head", "body", None), ("left_eye", "head", None), ("right_eye", "head", None)]
    for side in ("left", "right"):
        for limb in (("shoulder", "elbow", "wrist", "gripper"), ("hip", "knee", "ankle", "ball", "toe_end")):
            chain = [f"{side}_{part}" for part in limb]
            bones = [*zip(chain, chain[1:])]
            rows += zip(chain, ["body", *chain], [*bones, bones[-1]])
            rows += _finger_rows(side) if limb[-1] == "gripper" else []
    hose = [f"hose_{k + 1:02}" for k in range(HOSE_RIBS)]
    rows += zip(hose, ["body", *hose], zip(hose, [*hose[1:], "hose_end"]))
    return rows


def _finger_rows(side):
    for name, _ in FINGERS:
        base, middle, tip = (f"{side}_finger_{name}_{part}" for part in ("base", "middle", "tip"))
        yield base, f"{side}_gripper", (base, middle)
        yield middle, base, (middle, tip)


def _rest_turn(landmark, bone, landmarks, hinges):
    if bone is None:
        return rotation.IDENTITY
    along = landmarks[bone[1]] - landmarks[bone[0]]
    return rotation.from_matrix(_frame(-along if landmark.startswith("right_") else along, hinges[landmark]))


def _frame(along, hinge):
    """The rotation matrix with x along `along` and z on `hinge`, its columns the axes."""
    z = unit(hinge)
    x = unit(along - (along @ z) * z)
    return np.stack([x, np.cross(z, x), z], axis=1)


def _from_world(names, parents, turns, positions):
    """A skeleton from world rotations (J, 4) and positions (J, 3)."""
    loose = Skeleton(names, parents, np.zeros((len(names), 3)))
    local_turns, local_positions = loose.local(np.array(turns), np.array(positions))
    return Skeleton(names, parents, local_positions, local_turns)


# ---- names ---------------------------------------------------------------------------------------


def _named(name):
    return name if name.split("_")[0] in CENTRE else f"left_{name}"


def _left(name):
    return name.startswith("left_")


def _joint(landmark):
    return f"{landmark}_joint" if landmark.startswith(("left_", "right_")) else f"centre_{landmark}_joint"


# ---- the list of true joints ----------------------------------------------------------------------------------


def landmarks_text():
    """Return what data/tally_landmarks.csv should hold: variant, landmark, x, y, z in metres to the nanometre."""
    lines = ["variant,landmark,x,y,z"]
    for variant in LISTED:
        for name, point in sorted(tally(variant).landmarks.items()):
            lines.append(f"{variant},{name}," + ",".join(f"{c + 0.0:.9f}" for c in np.round(point, 9)))
    return "\n".join(lines) + "\n"


def main(arguments=None):
    """Write or check the list of landmarks; return 0, or 1 when it is out of step."""
    parser = argparse.ArgumentParser(prog="python -m rigkit.robot", description="Write or check data/tally_landmarks.csv.")
    group = parser.add_mutually_exclusive_group(required=True)
    group.add_argument("--write", action="store_true", help="write the file anew")
    group.add_argument("--check", action="store_true", help="exit with 1 when the file is out of step")
    options = parser.parse_args(arguments)
    path = files.shared("data") / "tally_landmarks.csv"
    if options.write:
        path.write_text(landmarks_text(), encoding="utf-8")
        print(f"wrote {path.name}")
        return 0
    same = path.exists() and path.read_text(encoding="utf-8") == landmarks_text()
    print(f"{path.name} is in step" if same else f"{path.name} is out of step: run python -m rigkit.robot --write")
    return 0 if same else 1

