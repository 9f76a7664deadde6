"""Chapter 06's drawings: what show() lays over the robot for each checkpoint."""

from types import SimpleNamespace

import numpy as np

from rigkit import limb as limbs
from rigkit.course.chapters.chapter_06_limbs import ARGUMENTS, ARM, LEG, limb, square, unit
from rigkit.words import millimetres, point


def fresh(viewer, look="perspective"):
    """Put away what an earlier drawing left, and look at the whole robot."""
    viewer.clear()
    viewer.see_through(True)
    viewer.look(look)


def show_reach(viewer, answer, context):
    """06.1: the answer's reach as a shell, the targets with what is said of them, and where the wrist stops for each, faint."""
    fresh(viewer)
    shoulder, elbow, wrist = limb(context.robot, *ARM)
    targets = np.asarray(context.given["targets"])
    stops = stops_of(shoulder, elbow, wrist, targets)
    distances = np.linalg.norm(targets - shoulder, axis=1, keepdims=True)
    said = answer.get("reachable", [])
    viewer.joints(targets, [f"target {i}: {said[i] if i < len(said) else 'not said'}" for i in range(len(targets))], [-1] * len(targets))
    viewer.faint(stops, [-1] * len(stops))
    viewer.reach(shoulder, np.clip(answer.get("outer_reach", 0.0), 0.0, 3.0), np.clip(answer.get("inner_reach", 0.0), 0.0, 3.0))
    gaps = answer.get("gaps", np.zeros(0))
    viewer.lines(
        {f"{i}": np.array([t - (t - shoulder) / d * np.clip(g, -3, 3), t]) for i, (t, d, g) in enumerate(zip(targets, distances, gaps))}
    )
    viewer.focus(shoulder, 5.2 * float(np.linalg.norm(elbow - shoulder) + np.linalg.norm(wrist - elbow)))
    viewer.caption("06.1: your reach as a shell around the shoulder; from each target, the gap you gave, drawn towards the shoulder.")
    viewer.say(
        "Faint rings: where the wrist stops for each target; around the target itself where it is in reach. A right gap ends on its ring."
    )


def stops_of(shoulder, elbow, wrist, targets):
    """Where the wrist stops for each target, (N, 3): the target itself, or the nearest point of the reach on the way to it."""
    inner, outer = limbs.reach(np.linalg.norm(elbow - shoulder), np.linalg.norm(wrist - elbow))
    ways = targets - shoulder
    distances = np.linalg.norm(ways, axis=1, keepdims=True)
    return shoulder + ways / distances * np.clip(distances, inner, outer)


def show_solver(viewer, shown, context):
    """06.2: the learner's limb over a faint copy of the expected one, for the case the panel tells; target and pole can be dragged on."""
    fresh(viewer)
    inputs = [np.asarray(shown.case.inputs[name], float) for name in ARGUMENTS]

    def solve(*five):
        elbow, wrist = shown(*five)
        return SimpleNamespace(mid=elbow, end=wrist)

    viewer.limb(*inputs, solve, expected=limbs.solve)
    viewer.focus(inputs[0], 3.2 * float(np.linalg.norm(np.diff(inputs[:3], axis=0), axis=1).sum()))
    viewer.caption(f"06.2, {shown.case.about}: your limb over a faint copy of the expected one. Target and pole can be moved.")


def show_poles(viewer, answer, context):
    """06.3: the limbs as the answer's pole points turn them, over the stance, with the half-plane each pole point should lie in."""
    fresh(viewer)
    viewer.pose(context.given["stance"])
    points, names, parents, lines, faint, told = [], [], [], {}, [], []
    for name, marks in (("arm_pole", ARM), ("leg_pole", LEG)):
        root, mid, end = np.asarray(context.given[name.removesuffix("_pole")])
        out = unit(square(mid - root, unit(end - root)))
        lines[f"_half-plane of the {name[:3]}"] = np.array([root, end, end + 0.35 * out, root + 0.35 * out, root])
        faint += [root, mid, end]
        if name in answer:
            s = limbs.solve(root, mid, end, end, answer[name])
            points += [root, s.mid, s.end, answer[name]]
            names += [*marks, f"left_{name}"]
            parents += [-1, len(parents), len(parents) + 1, -1]
            lines[f"{name[:3]} pole"] = np.array([s.mid, answer[name]])
            told.append(f"{name}: the joint moves by {millimetres(np.linalg.norm(s.mid - mid))}")
    viewer.lines(lines)
    viewer.faint(np.array(faint), [-1, 0, 1, -1, 3, 4])
    viewer.joints(np.array(points).reshape(-1, 3), names, parents)
    viewer.focus(np.mean(faint, axis=0), 1.9)
    viewer.caption("06.3: your pole points and the limbs they give, over the faint stance. Any point inside or beyond a frame is right.")
    viewer.say("; ".join(told))


def show_flips(viewer, answer, context):
    """06.4: the line through shoulder and pole point, with the two targets, and the place on the line nearest to each, faint."""
    fresh(viewer)
    shoulder, elbow, wrist = limb(context.robot, *ARM)
    pole = np.asarray(context.given["flip_pole"], float)
    way, reach = unit(pole - shoulder), float(np.linalg.norm(elbow - shoulder) + np.linalg.norm(wrist - elbow))
    placed = {f"left_{name}": answer[name] for name in ("flip_front", "flip_back") if name in answer}
    viewer.lines({"pole point": np.array([shoulder - reach * way, pole])})
    viewer.reach(shoulder, reach)
    if placed:
        viewer.joints(np.array(list(placed.values())), list(placed), [-1] * len(placed))
        viewer.faint(np.array([shoulder + ((p - shoulder) @ way) * way for p in placed.values()]), [-1] * len(placed))
    viewer.focus(shoulder, 3.2 * reach)
    viewer.caption("06.4: the line through shoulder and pole point; your two targets; faint, the place on the line nearest to each.")
    viewer.say("; ".join(f"{name.removeprefix('left_')} {point(p)} m" for name, p in placed.items()) or "No target placed yet.")


def show_swivel(viewer, shown, context):
    """06.5: the elbow circle with its reference, the new elbow over a faint copy of the expected one."""
    fresh(viewer)
    root, mid, end, reference = (np.asarray(shown.case.inputs[name], float) for name in ("root", "mid", "end", "reference"))
    angle, (now, elbow) = shown.case.inputs["angle"], shown.value
    n = unit(end - root)
    u = unit(square(reference, n))
    v, centre = np.cross(n, u), root + ((mid - root) @ n) * n
    radius = np.linalg.norm(mid - centre)
    expected = centre + radius * (np.cos(angle) * u + np.sin(angle) * v)
    turn = np.linspace(0, 2 * np.pi, 49)[:, None]
    viewer.lines(
        {
            "_circle": centre + radius * (np.cos(turn) * u + np.sin(turn) * v),
            "reference": np.array([centre, centre + 1.8 * max(radius, 0.05) * u]),
            "_limb as given": np.array([root, mid, end]),
            "elbow as given": mid[None],
            "expected elbow": expected[None],
        }
    )
    viewer.joints(np.array([root, elbow, end]), ["left_root", "left_elbow", "left_end"])
    viewer.faint(np.array([root, expected, end]))
    viewer.focus(centre, 2.2 * float(np.linalg.norm(end - root)))
    viewer.caption(f"06.5, {shown.case.about}: your new elbow over a faint copy of the expected one, on the elbow circle.")
    viewer.say(
        f"you read {np.degrees(now):.1f} degrees; asked for: {np.degrees(angle):.1f} degrees; "
        f"your elbow {millimetres(np.linalg.norm(elbow - expected))} from the expected one, {point(expected)} m"
    )
