"""Chapter 13's chains: Tally's mooring hose, and the three textbook ways to bring its tip to a target, a step at a time.

- a *sweep* of cyclic coordinate descent (Wang & Chen, IEEE Trans. Robotics and Automation 7 (1991) 489),
- a *pass* of FABRIK (Aristidou & Lasenby, Graphical Models 73 (2011) 243),
- a *damped step* of damped least squares (Wampler 1986, Nakamura & Hanafusa 1986 (memory); Buss, Introduction to
  Inverse Kinematics, 2004).

They are the plain forms that a learner writes; the package's, in `rigkit.chain`, have more to them.
"""

import numpy as np

from rigkit import rotation

BOOK = ("chain",)  # closed in the whole chapter
CLOSE = 1e-6  # metres, or radians
WAYS = ("sweep", "pass", "damped step")
STEPS, NEAR = 30, 0.0001  # of the trails; metres from the target at which one has arrived
DAMPING, STRIDE = 0.3, 0.2  # of the chain's length
JOINTS = tuple(f"hose_{k:02}" for k in range(1, 13))


def hose(robot):
    """The hose's joints and its end at rest, (13, 3), metres, the root first."""
    return np.array([robot.landmarks[name] for name in (*JOINTS, "hose_end")])


def given(robot, variant):
    """What the notebook is handed: hose (13, 3), target (3,), trails (3, 31, 13, 3) of the ways, and limit, degrees."""
    rng = np.random.default_rng([13, variant])
    points = hose(robot)
    way = np.array([rng.choice([-1, 1]) * rng.uniform(0.25, 0.4), rng.uniform(-0.1, 0.1), -rng.uniform(0.3, 0.45)])
    target = points[0] + way * lengths(points).sum()
    return {
        "hose": points,
        "target": target,
        "trails": np.array([trail(step, points, target) for step in (sweep, fabrik_pass, damped_step)]),
        "limit": int(rng.integers(30, 37)),
    }


def trail(step, points, target):
    """A chain as it is at the start and after each of STEPS steps, (STEPS + 1, n + 1, 3)."""
    found = [np.array(points)]
    for _ in range(STEPS):
        found.append(step(found[-1], target))
    return np.array(found)


def arrived(trail_of_one, target):
    """After which step the tip is first within NEAR of the target."""
    return int((np.linalg.norm(trail_of_one[:, -1] - target, axis=1) <= NEAR).argmax())


# ---- one step of each way ----------------------------------------------------------------------------------------


def fabrik_pass(points, target):
    """Tip on the target and link by link back to the root, then the root in its place and out again."""
    p, long = np.array(points), lengths(points)
    p[-1] = target
    for i in range(len(p) - 2, -1, -1):
        p[i] = placed(p[i + 1], p[i], long[i])
    p[0] = points[0]
    for i in range(len(p) - 1):
        p[i + 1] = placed(p[i], p[i + 1], long[i])
    return p


def sweep(points, target):
    """From the last joint to the root, all beyond a joint turned so that the tip points at the target."""
    p = np.array(points)
    for i in range(len(p) - 2, -1, -1):
        tip, aim = p[-1] - p[i], target - p[i]
        if np.linalg.norm(tip) > 1e-9 and np.linalg.norm(aim) > 1e-9:
            p = turned(p, i, swing(tip, aim))
    return p


def damped_step(points, target, damping=DAMPING):
    """The least turns of all joints that bring the tip nearer: J^T (J J^T + l^2 I)^-1 e."""
    p, long = np.array(points), lengths(points).sum()
    error = target - p[-1]
    error = error * min(1.0, STRIDE * long / max(np.linalg.norm(error), 1e-12))
    jacobian = np.hstack([across(p[-1] - joint) for joint in p[:-1]])
    pull = np.linalg.solve(jacobian @ jacobian.T + (damping * long) ** 2 * np.eye(3), error)
    for i, turn in enumerate((jacobian.T @ pull).reshape(-1, 3)):
        p = turned(p, i, turn)
    return p


# ---- the worked answers ------------------------------------------------------------------------------------------


def start(points, target):
    """The chain as a way begins with it: bent a little where it lies in one line with its target."""
    return bowed(points) if in_line(points, target) else np.array(points)


def reach_for(points, target, steps):
    """The worked answer of 13.1: passes of FABRIK."""
    p, long = start(points, target), lengths(points)
    for _ in range(steps):
        p[-1] = target
        for i in range(len(p) - 2, -1, -1):
            p[i] = placed(p[i + 1], p[i], long[i])
        p[0] = points[0]
        for i in range(len(p) - 1):
            p[i + 1] = placed(p[i], p[i + 1], long[i])
    return p


def keep_limit(points, limit):
    """The worked answer of 13.3: each joint turned back about its own axis, what lies beyond carried along."""
    p = np.array(points)
    for i in range(1, len(p) - 1):
        bend, axis = bend_and_axis(p, i)
        if bend > limit:
            p = turned(p, i, (limit - bend) * axis)
    return p


def bend_and_axis(points, i):
    """The bend at joint i, radians, and the axis it goes about, of length 1; folded or straight, any that is square."""
    before, after = unit(points[i] - points[i - 1]), unit(points[i + 1] - points[i])
    axis = np.cross(before, after)
    sine = np.linalg.norm(axis)
    return np.arctan2(sine, before @ after), axis / sine if sine > 1e-9 else rotation.perpendicular(before)


# ---- what they are made of ---------------------------------------------------------------------------------------


def lengths(points):
    """The length of each link, (n,)."""
    return np.linalg.norm(np.diff(points, axis=0), axis=1)


def unit(v):
    """The vector at unit length."""
    return v / np.linalg.norm(v)


def placed(near, far, length):
    """The point `length` from near on the way to far; where both are one point, along z."""
    way = far - near
    size = np.sqrt(way @ way)
    return near + length * (way / size if size > 1e-12 else np.array([0, 0, 1.0]))


def turned(points, i, turn):
    """All beyond joint i turned about it; turn (3,), axis times angle, radians."""
    p = np.array(points)
    p[i + 1 :] = p[i] + (p[i + 1 :] - p[i]) @ matrix(turn).T
    return p


def swing(a, b):
    """The shortest turn from direction a to b, axis times angle; opposite ones go about any axis square to a."""
    axis = across(b) @ a
    sine, cosine = np.sqrt(axis @ axis), a @ b
    if sine <= 1e-12 * np.sqrt((a @ a) * (b @ b)):
        return np.zeros(3) if cosine > 0 else np.pi * rotation.perpendicular(a)
    return axis * (np.arctan2(sine, cosine) / sine)


def matrix(turn):
    """The matrix (3, 3) of a turn, axis times angle: Rodrigues' formula."""
    angle = np.sqrt(turn @ turn)
    spin = across(turn).T
    return np.eye(3) + np.sinc(angle / np.pi) * spin + 0.5 * np.sinc(angle / (2 * np.pi)) ** 2 * spin @ spin


def across(arm):
    """The matrix (3, 3) that takes a small turn of a joint to the move of a tip that is `arm` away from it: turn x arm."""
    x, y, z = arm
    return np.array([[0, z, -y], [-z, 0, x], [y, -x, 0]])


def bends(points):
    """The bend at each inner joint, (n - 1,), radians: 0 where the chain goes straight on."""
    links = np.diff(points, axis=0)
    first, second = links[:-1], links[1:]
    return np.arctan2(np.linalg.norm(np.cross(first, second), axis=1), (first * second).sum(axis=1))


def in_line(points, target):
    """Whether a chain and its target lie on one line."""
    ways = np.vstack([points, target]) - points[0]
    return np.linalg.norm(np.cross(ways, unit(points[1] - points[0])), axis=1).max() < 1e-9


def bowed(points):
    """A straight chain bent to a shallow bow, its links as long as they were."""
    p, long = np.array(points), lengths(points)
    side = rotation.perpendicular(unit(p[1] - p[0]))
    p = p + 0.05 * long.sum() * np.outer(np.sin(np.linspace(0, np.pi, len(p))), side)
    for i in range(len(p) - 1):
        p[i + 1] = placed(p[i], p[i + 1], long[i])
    return p


def random_chain(rng, count, wild=1.0):
    """A chain of `count` links of 5 to 10 cm somewhere in space, bent at random; wild: how much."""
    ways = wild * rng.normal(size=(count, 3)) + 2 * unit(rng.normal(size=3))
    ways *= rng.uniform(0.05, 0.1, (count, 1)) / np.linalg.norm(ways, axis=1, keepdims=True)
    return rng.uniform(-1, 1, 3) + np.vstack([np.zeros(3), np.cumsum(ways, axis=0)])
