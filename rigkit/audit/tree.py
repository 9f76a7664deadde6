"""How joints hang together: cycles, orphans, bones of no length, scale on the way, joints that nothing hangs on."""

import numpy as np

from rigkit.audit.finding import Measured, Unknown
from rigkit.audit.finding import told as said


def cycle(view):
    """How many joints are in a cycle of parents."""
    ring = view.subject.cycle
    names = [view.name(j) for j in ring]
    shown = [*names[:6], "...", names[0]] if len(names) > 6 else [*names, *names[:1]]
    where = names[0] if ring else view.subject.name
    return [Measured(len(ring), where, f"parents form a cycle: {' -> '.join(shown)}" if ring else "no parents form a cycle")]


def orphan(view):
    """Roots beyond the first: joints that hang on nothing while the rest has a root."""
    roots = [j for j in range(len(view.subject)) if view.subject.parents[j] < 0]
    main = max(roots, key=lambda j: (len(view.subject.below(j)), -j))
    return [
        Measured(0 if j == main else 1, view.name(j), f"{view.name(j)} hangs on no joint, and {view.name(main)} is the root", view.at(j))
        for j in roots
    ]


def zero_bone(view):
    """The length of each bone, millimetres."""
    found = []
    for joint, above in enumerate(view.subject.parents):
        if above >= 0:
            length = 1000.0 * np.linalg.norm(view.at(joint) - view.at(above))
            found.append(
                Measured(length, view.name(joint), f"{view.name(joint)} is {said(length, 'mm')} from {view.name(above)}", view.at(joint))
            )
    return found or [Unknown(view.subject.name, "no joint hangs on another")]


def scale(view):
    """How far a joint's own scale at rest is from one, in percent."""
    off = 100.0 * np.abs(view.subject.scales - 1.0).max(axis=1)
    return [
        Measured(
            off[j],
            view.name(j),
            f"{view.name(j)} has the scale {', '.join(f'{s:.4g}' for s in view.subject.scales[j])} at rest",
            view.at(j),
        )
        for j in range(len(view.subject))
    ]


def handed(view):
    """Whether a joint's frame is right-handed: the determinant of its unit axes, 1 for right-handed and square."""
    determinant = np.linalg.det(view.subject.axes)
    return [
        Measured(determinant[j], view.name(j), f"{view.name(j)} has axes with the determinant {determinant[j]:.4f}", view.at(j))
        for j in range(len(view.subject))
    ]


def unused(view):
    """Branches that no vertex hangs on, beyond one joint that ends a chain: the number of joints in each."""
    subject = view.subject
    if not subject.skins:
        return [Unknown(subject.name, "there is no model that joints could move")]
    alive = view.used.copy()
    for joint in reversed(subject.order):
        above = subject.parents[joint]
        if above >= 0:
            alive[above] |= alive[joint]
    found = []
    for joint in subject.order:
        above = subject.parents[joint]
        top = not alive[joint] and (above < 0 or alive[above])
        if top:
            branch = subject.below(joint)
            ends = len(branch) == 1 and above >= 0 and view.used[above]
            count = 0 if ends else len(branch)
            found.append(
                Measured(
                    count, view.name(joint), f"no vertex hangs on {view.name(joint)} or below: {said(count, 'joints')}", view.at(joint)
                )
            )
        elif alive[joint]:
            found.append(Measured(0, view.name(joint), f"{view.name(joint)} is used", view.at(joint)))
    return found


def mended(view):
    """What was set right when the file was loaded: 1 for each note."""
    notes = [Measured(1, note.split(":")[0].split(" ")[0], note) for note in view.subject.notes]
    return notes or [Measured(0, view.subject.name, "nothing was set right on loading")]
