"""Checkpoint 02.4: an order with parents first, or a joint of a cycle.

Put down every joint whose parent is already down, again and again, until nothing
more can be put down: what is left hangs in a cycle or behind one (Kahn,
Communications of the ACM 5, 1962: topological sorting (memory)). From any joint that
is left, as many steps upwards as there are joints end inside the cycle.
"""

import numpy as np

from rigkit.course import forms
from rigkit.course.chapters.chapter_02_figure import CLOSED, PARENTS
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake


def cases(rng, context):
    """Sound lists in every order, several roots, one joint; cycles of one, two and more, alone and with joints behind or beside them."""
    tree = [-1, *(int(rng.integers(0, joint)) for joint in range(1, 9))]
    return [
        case("Tally's ten joints, parents first", PARENTS),
        case("a chain, children first", [1, 2, 3, -1]),
        case("a tree, shuffled", shuffled(tree, rng)),
        case("one joint", [-1]),
        case("three roots", [-1, 2, -1, 1, -1, 4]),
        case("a chain of 60, children first", [*range(1, 60), -1]),
        case("two joints, each other's parent", [-1, 2, 1]),
        case("a joint that is its own parent", [-1, 0, 2, 2]),
        case("a cycle of three with two joints behind it", [1, 2, 3, 4, 2]),
        case("joints before a cycle in the list", [-1, 0, 6, 2, 3, 6, 5]),
        case("a long cycle, shuffled", cycle(rng.permutation(7))),
        case("a sound tree beside a cycle, shuffled", shuffled([-1, 0, 0, 1, 7, 4, 5, 6, 5], rng)),
    ]


def case(about, parents):
    """A Case of one parent list."""
    return Case(about, {"parents": [int(p) for p in parents]})


def cycle(order):
    """The parents of joints of which each hangs on the next of `order`, and the last on the first."""
    parents = np.empty(len(order), int)
    parents[order] = np.roll(order, -1)
    return parents


def shuffled(parents, rng):
    """The same tree with its joints numbered another way."""
    place = rng.permutation(len(parents))
    moved = np.empty(len(parents), int)
    moved[place] = [-1 if parent < 0 else place[parent] for parent in parents]
    return moved


def members(parents):
    """The joints that are in a cycle: whoever climbs from one comes back to it."""
    found = set()
    for joint in range(len(parents)):
        above = parents[joint]
        for _ in parents:
            if above in (joint, -1):
                break
            above = parents[above]
        if above == joint:
            found.add(joint)
    return found


def is_sound(case):
    """Whether every joint of the case ends at a root."""
    return not members(case.inputs["parents"])


def has_cycle(case):
    """Whether some joints of the case form a cycle."""
    return not is_sound(case)


def listed(parents):
    """A parent list in words, shortened in its middle where it is long."""
    told = [str(p) for p in parents]
    return f"[{', '.join(told if len(told) <= 10 else [*told[:6], '...', told[-1]])}]"


# ---- measures ----------------------------------------------------------------------------------------------------


def called_sound(case, answer, context):
    """A sound list gives stuck = -1."""
    return Measure(answer[1] == -1, f"stuck = -1 for {listed(case.inputs['parents'])}, which is sound", f"stuck = {answer[1]}", 1.0)


def parents_come_first(case, answer, context):
    """Each joint once, none before its parent."""
    parents, order = case.inputs["parents"], answer[0]
    rule = f"each of {len(parents)} joints once, parents first, for {listed(parents)}"
    missing = sorted(set(range(len(parents))) - set(order))
    if missing or len(order) != len(parents):
        extra = next((joint for i, joint in enumerate(order) if joint in order[:i] or not 0 <= joint < len(parents)), None)
        told = (
            f"joint {missing[0]} is missing"
            if missing
            else f"{extra} is there twice"
            if extra in range(len(parents))
            else f"{extra} is no joint"
        )
        return Measure(False, rule, f"{len(order)} of {len(parents)} came: {told}", float(max(len(missing), 1)))
    place = {joint: i for i, joint in enumerate(order)}
    late = [joint for joint in order if parents[joint] >= 0 and place[parents[joint]] > place[joint]]
    told = f"joint {late[0]} comes before its parent {parents[late[0]]}" if late else ""
    return Measure(not late, rule, told, float(len(late)))


def cycle_is_seen(case, answer, context):
    """A list with a cycle does not give stuck = -1."""
    return Measure(answer[1] != -1, f"a joint of the cycle in {listed(case.inputs['parents'])}", "stuck = -1, as for a sound list", 1.0)


def stuck_is_in_the_cycle(case, answer, context):
    """The joint that is named is a member, not only behind the cycle."""
    parents, stuck = case.inputs["parents"], answer[1]
    inside = members(parents)
    if stuck in inside:
        return Measure(True)
    proves = ""
    if 0 <= stuck < len(parents):
        seen, above = set(), stuck
        while above >= 0 and above not in seen:
            seen.add(above)
            above = parents[above]
        proves = (
            f"joint {stuck} hangs behind the cycle: climb from it, and you never come back to it"
            if above >= 0
            else (f"climbing from joint {stuck} ends at a root")
        )
    where = "one of " + ", ".join(str(joint) for joint in sorted(inside))
    return Measure(False, f"{where}, for {listed(parents)}", f"stuck = {stuck}", 1.0, proves)


# ---- the worked answer and the planned mistakes --------------------------------------------------------------------


def parents_first(parents):
    """The worked answer."""
    order, down = [], set()
    for _ in parents:
        for joint, parent in enumerate(parents):
            if joint not in down and (parent < 0 or parent in down):
                order.append(joint)
                down.add(joint)
    if len(order) == len(parents):
        return order, -1
    stuck = next(joint for joint in range(len(parents)) if joint not in down)
    for _ in parents:
        stuck = parents[stuck]
    return [], stuck


def as_it_stands(parents):
    """The list is taken for sound, in the order it came."""
    return list(range(len(parents))), -1


def out_of_order_is_refused(parents):
    """Any joint before its parent is called stuck."""
    late = [joint for joint, parent in enumerate(parents) if parent >= joint]
    return list(range(len(parents))), late[0] if late else -1


def behind_the_cycle(parents):
    """The first joint that is left over, wherever it hangs."""
    order, _ = parents_first(parents)
    down = set()
    for _ in parents:
        down |= {joint for joint, parent in enumerate(parents) if parent < 0 or parent in down}
    left = [joint for joint in range(len(parents)) if joint not in down]
    return order, left[0] if left else -1


def own_parent_missed(parents):
    """A joint that is its own parent is taken for a root."""
    return parents_first([-1 if parent == joint else parent for joint, parent in enumerate(parents)])


def pairs_only(parents):
    """Only two joints that are each other's parent are looked for."""
    order, stuck = parents_first(parents)
    pair = [joint for joint, parent in enumerate(parents) if parent >= 0 and parents[parent] == joint]
    return order, pair[0] if pair else -1


def by_number_of_parent(parents):
    """Sorted by the parents' numbers."""
    order, stuck = parents_first(parents)
    return (sorted(range(len(parents)), key=lambda joint: parents[joint]), -1) if stuck < 0 else (order, stuck)


def children_come_first(parents):
    """The order turned round."""
    order, stuck = parents_first(parents)
    return order[::-1], stuck


def one_pass(parents):
    """One pass only: what comes before its parent in the list is left over and called stuck."""
    order = []
    for joint, parent in enumerate(parents):
        if parent < 0 or parent in order:
            order.append(joint)
    left = [joint for joint in range(len(parents)) if joint not in order]
    return order, left[0] if left else -1


def first_root_only(parents):
    """Only what hangs below the first root is put down."""
    order, stuck = parents_first(parents)
    if stuck >= 0:
        return order, stuck
    kept = {parents.index(-1)}
    for joint in order:
        kept |= {joint} if parents[joint] in kept else set()
    return [joint for joint in order if joint in kept], -1


def climbed_from_one(parents):
    """Only the climb from joint 0 is followed."""
    order, stuck = parents_first(parents)
    joint = 0
    for _ in parents:
        joint = parents[joint] if joint >= 0 else -1
    return order, joint


MISTAKES = (
    Mistake(
        "as it stands",
        as_it_stands,
        "the list is given back as it came: children may come first, parents may form a cycle",
        ("order", "cycle", "member"),
        "idea 3, step 1",
    ),
    Mistake(
        "out of order refused",
        out_of_order_is_refused,
        "a child before its parent is no fault of the tree: another order mends it; only a cycle is unsound",
        ("sound",),
        "idea 3, step 1",
    ),
    Mistake(
        "one pass",
        one_pass,
        "one pass is not enough: a joint before its parent has to wait for the next one",
        ("sound", "order"),
        "idea 3, step 1",
    ),
    Mistake(
        "behind the cycle",
        behind_the_cycle,
        "this is a joint that is left over; it may hang behind the cycle: climb from it as many steps as there are joints",
        ("member",),
        "idea 3, step 2",
    ),
    Mistake(
        "own parent missed",
        own_parent_missed,
        "a joint that is its own parent is a cycle of one, not a root; a root has -1",
        ("cycle",),
        "idea 3, step 2",
    ),
    Mistake(
        "pairs only",
        pairs_only,
        "only two joints that are each other's parent were looked for; a cycle may have one, three or more",
        ("cycle",),
        "idea 3, step 2",
    ),
    Mistake(
        "by the parent's number",
        by_number_of_parent,
        "sorted by the parents' numbers: a smaller number does not mean nearer to the root",
        ("order",),
        "idea 3, step 1",
    ),
    Mistake(
        "children first",
        children_come_first,
        "the order runs from the tips to the roots: parents come last in it",
        ("order",),
        "idea 3, step 1",
    ),
    Mistake(
        "first root only",
        first_root_only,
        "only one root's joints are in the order; every -1 is a root",
        ("order",),
        "idea 3, step 1",
    ),
    Mistake(
        "climbed from joint 0 only",
        climbed_from_one,
        "only the climb from joint 0 was followed; the cycle may be somewhere else",
        ("cycle",),
        "idea 3, step 2",
    ),
)

CHECKPOINT = Checkpoint(
    id="02.4",
    title="Is this parent list sound?",
    kind="function",
    names={"parents_first": forms.several(forms.listing(forms.integer()), forms.integer())},
    claims=(
        Claim("sound", "a sound list is called sound: stuck is -1", 1, called_sound, look_at="idea 3, step 1", applies=is_sound),
        Claim(
            "order",
            "a sound list: every joint once, no joint before its parent",
            2,
            parents_come_first,
            look_at="idea 3, step 1",
            applies=is_sound,
        ),
        Claim("cycle", "a list with a cycle is never called sound", 1, cycle_is_seen, look_at="idea 3, step 2", applies=has_cycle),
        Claim(
            "member",
            "stuck is a joint of the cycle, not one behind it",
            1,
            stuck_is_in_the_cycle,
            look_at="idea 3, step 2",
            applies=has_cycle,
        ),
    ),
    worked=parents_first,
    hint="Keep a list order. Go over all joints; append each one that is not in order yet and whose parent is -1 or is in order. "
    "Do this as many times as there are joints.\n"
    "Is every joint in order? Then return order, -1.\n"
    "Else take any joint that is not in it, and climb: stuck = parents[stuck], as many times as there are joints. Return [], stuck.",
    mistakes=MISTAKES,
    cases=cases,
    closed=CLOSED,
)
