"""What chapter 09 draws: frames as lettered axes and named points, over a faint copy of the expected ones."""

import numpy as np

FARTHEST = 20.0  # metres: what is farther off is drawn there


def fresh(viewer, caption, look="perspective", glass=True):
    """Put away what an earlier drawing left."""
    viewer.clear()
    viewer.see_through(glass)
    viewer.look(look)
    viewer.caption(caption)


def held(points):
    """Points that a picture can hold."""
    return np.clip(np.nan_to_num(np.asarray(points, float)), -FARTHEST, FARTHEST)


def axes_of(frames):
    """The axes of frames (N, 4, 4) or (N, 3, 3) at length one, (N, 3, 3); ValueError where they are no turns."""
    axes = np.asarray(frames, float)[:, :3, :3]
    return axes / np.maximum(np.linalg.norm(axes, axis=1, keepdims=True), 1e-12)


def see(viewer, *sets):
    """Look at all of some points."""
    points = held(np.concatenate([np.asarray(one, float).reshape(-1, 3) for one in sets]))
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    viewer.focus(middle, max(0.4, 1.9 * float(np.linalg.norm(np.ptp(points, axis=0)))))


def grey_axes(frames, long=0.09):
    """Short lines for the axes of expected frames, unlabelled."""
    found = {}
    for i, one in enumerate(frames):
        for k, axis in enumerate(axes_of(one[None])[0].T):
            found[f"_{i} {'xyz'[k]}"] = np.array([one[:3, 3], one[:3, 3] + long * axis])
    return found


def draw_points(viewer, got, right, parents=None):
    """Named points {name: (3,)} over the expected ones, with what differs."""
    viewer.joints({name: held(point) for name, point in got.items()}, parents=parents)
    viewer.compare({name: right[name] for name in got})
    see(viewer, list(got.values()), list(right.values()))


def draw_frames(viewer, leaders, got, right):
    """Frames {name: (4, 4)} that are given, as points; the answer's frame with lettered axes, and the expected one as grey lines."""
    names = [*leaders, "yours"]
    places = held([*(one[:3, 3] for one in leaders.values()), got[:3, 3]])
    viewer.joints(places, names, [-1] * len(names))
    viewer.frames(places[-1:], axes_of(got[None]))
    viewer.lines({**grey_axes([right]), "expected": np.array([right[:3, 3], right[:3, 3] + 1e-4])}, "#9AA3AA")
    see(viewer, places, right[:3, 3])
