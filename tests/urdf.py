"""A reader of robot descriptions for the tests: joints, rests, axes and limits of a URDF file, and the points of its COLLADA shells.

URDF (Open Robotics, the XML format of robot descriptions): a joint's origin is its rest seen from its parent joint, written as roll,
pitch and yaw about fixed axes x, y, z; a revolute joint turns about its axis from there. z is up, x ahead, y to the left.
"""

import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import rigkit as rk

COLLADA = "{http://www.collada.org/2005/11/COLLADASchema}"


@dataclass(frozen=True, eq=False)
class Robot:
    """skeleton: joints by name, with "base" as the root. axes (J, 3): unit, zero for a joint that is fixed. limits (J, 2): radians.

    body: the name of the link that each joint carries. shells: the points (N, 3) of a joint's shell in the joint's frame, by name.
    """

    skeleton: rk.Skeleton
    axes: np.ndarray
    limits: np.ndarray
    body: tuple
    shells: dict

    @property
    def turning(self):
        """The indices of the joints that turn."""
        return np.flatnonzero(self.axes.any(axis=1))

    def rotations(self, angles):
        """Local turns (..., J, 4) for an angle (..., J) a joint, radians."""
        axes = np.where(self.axes.any(axis=1, keepdims=True), self.axes, (1.0, 0.0, 0.0))
        turned = rk.rotation.from_axis_angle(axes, np.where(self.axes.any(axis=1), angles, 0.0))
        return rk.rotation.multiply(self.skeleton.rest_rotations, turned)


def read(path, meshes):
    """Return the Robot of a URDF file whose shells lie in the folder `meshes`; sides L_ and R_ become left_ and right_."""
    robot = ElementTree.parse(path).getroot()
    joints = robot.findall("joint")
    carries = {joint.find("child").get("link"): joint for joint in joints}
    links = [link for link in robot.findall("link")]
    base = next(link.get("name") for link in links if link.get("name") not in carries)
    named = {base: "base"} | {link: sided(joint.get("name")) for link, joint in carries.items()}
    names, parents = ["base", *(sided(joint.get("name")) for joint in joints)], [-1]
    parents += [names.index(named[joint.find("parent").get("link")]) for joint in joints]
    moves, turns = zip(([0.0, 0, 0], [0.0, 0, 0, 1]), *(origin(joint) for joint in joints))
    skeleton = rk.Skeleton.sorted(names, parents, moves, turns)
    row = {sided(joint.get("name")): joint for joint in joints}
    order = [row.get(name) for name in skeleton.names]
    axes = [numbers(joint.find("axis").get("xyz")) if turns_at_all(joint) else [0.0, 0, 0] for joint in order]
    limits = [[float(joint.find("limit").get(end)) for end in ("lower", "upper")] if turns_at_all(joint) else [0.0, 0] for joint in order]
    body = tuple(base if joint is None else joint.find("child").get("link") for joint in order)
    shells = {named[link.get("name")]: np.vstack(found) for link in links if (found := [shell(v, meshes) for v in link.findall("visual")])}
    return Robot(skeleton, np.array(axes), np.array(limits), body, shells)


def turns_at_all(joint):
    return joint is not None and joint.get("type") == "revolute"


def sided(name):
    """left_hip_p for L_HIP_P."""
    side, _, rest = name.partition("_")
    return ({"l": "left_", "r": "right_"}[side.lower()] + rest if side.lower() in ("l", "r") else name).lower()


def origin(element):
    """(move (3,), turn (4,)) of an element's origin; none is no move and no turn."""
    found = element.find("origin")
    if found is None:
        return [0.0, 0, 0], [0.0, 0, 0, 1]
    return numbers(found.get("xyz", "0 0 0")), rk.rotation.from_euler("xyz", numbers(found.get("rpy", "0 0 0")))


def numbers(text):
    return [float(word) for word in text.split()]


def shell(visual, meshes):
    """The points of a visual's COLLADA file in the link's frame, placed by the nodes of its scene."""
    move, turn = origin(visual)
    tree = ElementTree.parse(Path(meshes) / visual.find("geometry/mesh").get("filename").rpartition("/")[2]).getroot()
    points = {}
    for geometry in tree.iter(f"{COLLADA}geometry"):
        source = geometry.find(f".//{COLLADA}vertices/{COLLADA}input[@semantic='POSITION']").get("source")[1:]
        array = geometry.find(f".//{COLLADA}source[@id='{source}']/{COLLADA}float_array")
        points[geometry.get("id")] = np.array(numbers(array.text)).reshape(-1, 3)
    placed = []
    for node in tree.iter(f"{COLLADA}node"):
        matrix = node.find(f"{COLLADA}matrix")
        m = np.eye(4) if matrix is None else np.array(numbers(matrix.text)).reshape(4, 4)
        placed += [points[g.get("url")[1:]] @ m[:3, :3].T + m[:3, 3] for g in node.findall(f"{COLLADA}instance_geometry")]
    return rk.frame.to_world((turn, move), np.vstack(placed))
