"""Roles guessed: by the words of names first, then by structure and shape.

By name, a joint whose words hold a role's phrase is a candidate, and the one with the fewest other words is taken. A limb must then
hang together: shoulder above elbow above wrist. By shape, where names say nothing: a leg is what goes down from the centre to the
lowest joint of its side; an arm is what reaches farthest to the side of all the rest; upper arm and forearm are its
two longest bones in a row, and the ankle is where the leg turns ahead. Guesses are told (`--roles-template`), and a roles
file has the last word.
"""

import numpy as np

from rigkit import mirror, symmetry
from rigkit.audit import wording
from rigkit.audit.roles import LIMBS, SIDED, Roles

CENTRE = 0.02  # of the figure's size: a joint this near to the plane stands on it, for a guess
LOW = 0.15  # of the height: feet are below this
BENT = np.radians(1.0)  # a limb bent by less shows no hinge
PAIRS = 0.05  # of the figure's size: names that pair joints less alike than this are not believed
TRIED = 4000  # vertices looked at to find the plane of a model


def roles(subject, book):
    """Return the Roles that names, structure and shape of a Subject tell; one with a cycle tells none."""
    if subject.cycle:
        return Roles({}, {}, None, {})
    found, how = by_name(subject, book), {}
    how |= dict.fromkeys(found, "name")
    plane = plane_of(subject, book)
    if plane is not None:
        for role, joint in by_shape(subject, plane, found).items():
            found[role], how[role] = joint, "shape"
    for role, joint in list(_mended(subject, found).items()):
        how[role] = how.get(role, "structure") if found.get(role) == joint else "structure"
        found[role] = joint
    for chain in LIMBS.values():
        if not _hangs(subject, [found.get(role) for role in chain]):
            for role in chain:
                if how.get(role) != "file":
                    found.pop(role, None), how.pop(role, None)
    return Roles(found, hinges(subject, found), plane, how)


def by_name(subject, book):
    """Return role to joint number, by the words of names alone."""
    found = {}
    apart = wording.all_apart(subject.names, book.names)
    depth = subject.depth.tolist()
    taken = {}
    for part in ("toe_end", *(p for p in SIDED if p != "toe_end"), "head", "body"):
        for side in ("left", "right") if part in SIDED else (None,):
            ranked = []
            for joint, (told, words, _) in enumerate(apart):
                if (told if told != "centre" else None) != side:
                    continue
                for place, phrase in enumerate(book.role_words[part]):
                    phrase = tuple(phrase.split())
                    if _holds(words, phrase):
                        ranked.append((len("".join(words)) - len("".join(phrase)), place, depth[joint], joint))
            ranked = [row for row in sorted(ranked) if row[-1] not in taken and row[0] <= 12]
            if ranked:
                role = f"{side}_{part}" if side else part
                found[role] = ranked[0][-1]
                taken[ranked[0][-1]] = role
    return found


def _holds(words, phrase):
    """Whether the phrase stands among the words, as they are or written together."""
    n = len(phrase)
    return any(words[k : k + n] == phrase for k in range(len(words) - n + 1)) or "".join(phrase) in words


def plane_of(subject, book):
    """Return the Plane of symmetry that joints paired by name, else joints, else the model show best; None where nothing does.

    Its normal points to the character's left where names tell the side, else to +x.
    """
    other = wording.pairs(subject.names, book.names)
    apart = wording.all_apart(subject.names, book.names)
    left = [i for i in other if apart[i].side == "left"]
    if left:
        plane = _of_pairs(subject.positions[left], subject.positions[[other[i] for i in left]], PAIRS * subject.size)
        if plane is not None:
            return plane
    for points in (subject.positions, subject.points[:: max(1, len(subject.points) // TRIED)]):
        if len(points) > 3:
            try:
                return symmetry.best_plane(points, 0.01 * subject.size)
            except ValueError:
                pass
    return None


def _of_pairs(left, right, believed):
    """The plane of the pairs, fitted again without those far off it: one joint out of place must not tilt the plane."""
    if not (np.abs(left - right).max(axis=1) > 1e-9).any():
        return None
    towards = (left - right).mean(axis=0)
    towards = towards if towards.any() else (1.0, 0.0, 0.0)
    best = None
    for start in _starts(left, right, towards):
        off = np.linalg.norm(left - mirror.points(right, start), axis=1)
        keep = off <= max(4 * np.median(off), 1e-9)
        if (np.abs((left - right)[keep]) > 1e-9).any():
            plane = symmetry.plane_of_pairs(left[keep], right[keep], towards)
            score = np.median(np.linalg.norm(left - mirror.points(right, plane), axis=1))
            if best is None or score < best[0]:
                best = score, plane
    return best[1] if best and best[0] <= believed else None


def _starts(left, right, towards):
    """Planes to start from: that of all pairs, and that of each of a few widest pairs alone."""
    yield symmetry.plane_of_pairs(left, right, towards)
    apart = np.linalg.norm(left - right, axis=1)
    for k in np.argsort(-apart)[:5]:
        if apart[k] > 1e-9:
            yield mirror.Plane((left[k] + right[k]) / 2, left[k] - right[k])


def by_shape(subject, plane, known):
    """Return roles of limbs that names did not tell, by where the chains go; only for a figure whose plane is upright."""
    if abs(plane.normal[1]) > 0.3 or len(subject) < 6:
        return {}
    aside = (subject.positions - plane.point) @ plane.normal
    near, height = CENTRE * subject.size, subject.positions[:, 1] - subject.bounds[0, 1]
    found = {}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        outer = [j for j in range(len(subject)) if sign * aside[j] > near]
        lowest = min(outer, key=lambda j: (height[j], j), default=None)
        leg = set()
        if lowest is not None and height[lowest] < LOW * subject.size:
            chain = [j for j in subject.path(lowest) if sign * aside[j] > near]
            leg = set(subject.below(chain[0]))
            if len(chain) >= 3 and not {f"{side}_knee", f"{side}_ankle"} & set(known):
                found |= zip((f"{side}_{part}" for part in ("hip", "knee", "ankle")), _leg(subject, chain))
        rest = [j for j in outer if j not in leg]
        farthest = max(rest, key=lambda j: (sign * aside[j] - 0.2 * height[j], -j), default=None)
        if farthest is not None and not {f"{side}_elbow", f"{side}_wrist"} & set(known):
            chain = [j for j in subject.path(farthest) if sign * aside[j] > near]
            found |= zip((f"{side}_{part}" for part in ("shoulder", "elbow", "wrist")), _arm(subject, chain))
    return {role: joint for role, joint in found.items() if role not in known}


def _leg(subject, chain):
    """Hip, knee, ankle of a chain that ends at the lowest joint: the ankle is the last before the chain goes more ahead than down."""
    at = subject.positions[chain]
    bones = np.diff(at, axis=0)
    flat = np.linalg.norm(bones[:, [0, 2]], axis=1) > np.abs(bones[:, 1])
    ankle = next((k for k in range(2, len(bones)) if flat[k]), len(chain) - 1)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(bones, axis=1))])
    start = next((k for k in range(ankle - 1) if not flat[k]), 0)
    knee = min(range(start + 1, ankle), key=lambda k: abs(along[k] - (along[start] + along[ankle]) / 2))
    return chain[start], chain[knee], chain[ankle]


def _arm(subject, chain):
    """Shoulder, elbow, wrist: of the joints before the fingers spread, the three in a row with the longest bones."""
    last = next((k for k in range(2, len(chain)) if len(subject.children[chain[k]]) > 1), len(chain) - 1)
    bones = np.linalg.norm(np.diff(subject.positions[chain], axis=0), axis=1)
    start = max(range(last - 1), key=lambda k: min(bones[k], bones[k + 1]), default=None)
    return () if start is None else tuple(chain[start : start + 3])


def _mended(subject, found):
    """Limbs by structure where names tell the ends only: the elbow is above the wrist, the shoulder above the elbow."""
    out = {}
    for chain in LIMBS.values():
        joints = [found.get(role) for role in chain]
        if joints[2] is None or _hangs(subject, joints):
            continue
        above = subject.path(joints[2])[:-1]
        mid = joints[1] if joints[1] in above else (above[-1] if above else None)
        higher = subject.path(mid)[:-1] if mid is not None else []
        root = joints[0] if joints[0] in higher else (higher[-1] if higher else None)
        if root is not None:
            out |= zip(chain, (root, mid, joints[2]))
    return out


def _hangs(subject, joints):
    return None not in joints and joints[1] in subject.path(joints[2])[:-1] and joints[0] in subject.path(joints[1])[:-1]


def hinges(subject, found):
    """Return the hinge axis (3,) at rest of each limb's middle joint: what the model says, else the normal of its bend."""
    axes = {role: np.array(subject.hinges[role]) for role in LIMBS if role in subject.hinges}
    for mid, chain in LIMBS.items():
        joints = [found.get(role) for role in chain]
        if mid in axes or None in joints:
            continue
        a, b, c = subject.positions[joints]
        normal = np.cross(b - a, c - b)
        sine = np.linalg.norm(normal)
        if sine > np.sin(BENT) * np.linalg.norm(b - a) * np.linalg.norm(c - b) > 0:
            axes[mid] = normal / sine
    return axes
