"""Checkpoint 05.5: the name of the other side, whole words only; what can't be named is refused.

A name is words between underscores. `left` and `right` are swapped where they are
whole words; `bright` and `leftover` hold them and say no side. A name with both
sides, or one that is there already, is refused. The pattern is the course's own.
"""

from rigkit.course import forms
from rigkit.course.chapters.chapter_05_planes import BOOK
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake

WORDS, STAY, REFUSE = "idea 3, whole words", "idea 3, whole words", "idea 3, refused"


def name_or_none():
    """A form: a name, or None."""

    def form(value):
        if value is None:
            return None
        if type(value) is not str:
            raise forms.Wrong("wrong kind", forms.came(value, form.expected))
        return value

    form.expected = "a name in quotes, or None where it is refused"
    return form


def expected(case):
    """The right answer: a name, or None."""
    return swap_side(case.inputs["name"], case.inputs["taken"])


def kind(case):
    """What a case is about: "swap", "whole" (a side inside another word), "stay" or "refuse"."""
    name, right = case.inputs["name"], expected(case)
    if right is None:
        return "refuse"
    if "left" not in name and "right" not in name:
        return "stay"
    inside = any(word not in ("left", "right") and ("left" in word or "right" in word) for word in name.split("_"))
    return "whole" if inside else "swap"


def of_kind(*kinds):
    """A claim's `applies`."""
    return lambda case: kind(case) in kinds


def named(case, answer, context):
    """A Measure of one name."""
    right = expected(case)
    both = {"left", "right"} <= set(case.inputs["name"].split("_"))
    wanted = (
        f"{right!r}"
        if right is not None
        else "None: it holds both sides"
        if both
        else f"None: {swap_side(case.inputs['name'], [])!r} is taken"
    )
    proves = "what is refused is None itself, no text" if right is None and answer in ("", "None") else ""
    return Measure(answer == right, wanted, f"{answer!r}", 0.0 if answer == right else 1.0, proves)


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Names of Tally's, names that merely contain a side, names without one, and names that can't be given."""
    number = f"{rng.integers(1, 8):02}"
    rig = ["centre_body_joint", "left_hip_joint", "left_knee_joint", f"left_finger_{number}_tip_joint", "centre_head_joint"]
    part = ("elbow", "wrist", "ankle", "shoulder")[rng.integers(4)]
    return [
        case("one side there", f"left_{part}_joint", [*rig, f"left_{part}_joint"]),
        case("from the right", f"right_{part}_control", [f"right_{part}_control"]),
        case("a member of a series", f"left_finger_{number}_tip_joint", rig),
        case("side in the middle", f"spare_left_{part}_target", rig),
        case("side at the end", f"{part}_right", [f"{part}_right"]),
        case("side told twice", f"left_{part}_to_left_hip_control", rig),
        case("bright is no right", "bright_lamp_control", [*rig, "bright_lamp_control"]),
        case("leftover is no left", f"centre_leftover_{number}_joint", rig),
        case("both in one name", f"left_copyright_{part}_control", rig),
        case("upright, and a side", f"upright_right_{part}_joint", rig),
        case("no side", "centre_head_joint", rig),
        case("no side, a series", f"centre_hose_{number}_joint", [*rig, f"centre_hose_{number}_joint"]),
        case("the name is taken", f"left_{part}_joint", [*rig, f"left_{part}_joint", f"right_{part}_joint"]),
        case("taken, from the right", "right_hip_joint", [*rig, "right_hip_joint"]),
        case("two sides", f"left_to_right_{part}_control", rig),
    ]


def case(about, name, taken):
    """A Case; the panel tells the name, and how many are taken."""
    return Case(about, {"name": name, "taken": list(taken)}, tell=("name",))


# ---- the worked answer and the planned mistakes -----------------------------------------------------------------


def swap_side(name, taken):
    """The worked answer."""
    words = name.split("_")
    if "left" in words and "right" in words:
        return None
    if "left" not in words and "right" not in words:
        return name
    other = {"left": "right", "right": "left"}
    swapped = "_".join(other.get(word, word) for word in words)
    return None if swapped in taken else swapped


def by_letters(name, taken):
    """Letters replaced, wherever they stand."""
    if "left" in name.split("_") and "right" in name.split("_"):
        return None
    swapped = name.replace("left", "#").replace("right", "left").replace("#", "right")
    if swapped == name:
        return name
    return None if swapped in taken else swapped


def one_way(name, taken):
    """From left to right only."""
    words = name.split("_")
    if "left" in words and "right" in words:
        return None
    if "left" not in words:
        return name
    swapped = "_".join("right" if word == "left" else word for word in words)
    return None if swapped in taken else swapped


def back_again(name, taken):
    """left to right, then all right to left: the second step undoes the first."""
    words = name.split("_")
    if "left" in words and "right" in words:
        return None
    if "left" not in words and "right" not in words:
        return name
    words = ["right" if word == "left" else word for word in words]
    words = ["left" if word == "right" else word for word in words]
    swapped = "_".join(words)
    return None if swapped in taken and swapped != name else swapped


def first_word(name, taken):
    """Only the first word is looked at."""
    words = name.split("_")
    other = {"left": "right", "right": "left"}
    if words[0] not in other:
        return name
    if other[words[0]] in words:
        return None
    swapped = "_".join([other[words[0]], *words[1:]])
    return None if swapped in taken else swapped


def counter(name, taken):
    """Where the name is taken, a counter is put behind it."""
    swapped = swap_side(name, [])
    return f"{swapped}_1" if swapped in taken and swapped != name else swapped


def not_asked(name, taken):
    """What is taken is never asked."""
    return swap_side(name, [])


def own_name_taken(name, taken):
    """A name with no side is refused, because it is there."""
    swapped = swap_side(name, [])
    return None if swapped in taken else swapped


def both_swapped(name, taken):
    """A name with both sides is swapped all the same."""
    words = name.split("_")
    if "left" not in words and "right" not in words:
        return name
    other = {"left": "right", "right": "left"}
    swapped = "_".join(other.get(word, word) for word in words)
    return None if swapped in taken else swapped


def sideless_refused(name, taken):
    """A name with no side is refused."""
    words = name.split("_")
    return swap_side(name, taken) if "left" in words or "right" in words else None


MISTAKES = (
    Mistake(
        "letters replaced",
        by_letters,
        "letters were replaced inside words: bright holds right, leftover holds left. Split at the underscores first",
        ("whole",),
        WORDS,
    ),
    Mistake("left to right only", one_way, "only left becomes right; from the right it has to go back to the left", ("swap",), WORDS),
    Mistake(
        "swapped and swapped back",
        back_again,
        "left was made right, and then every right left again: decide word by word, once",
        ("swap",),
        WORDS,
    ),
    Mistake("first word only", first_word, "only the first word was looked at; a side may stand anywhere in the name", ("swap",), WORDS),
    Mistake(
        "a counter",
        counter,
        "a counter was put behind the name: nobody will know which of the two is meant; refuse it",
        ("refuse",),
        REFUSE,
    ),
    Mistake("taken not asked", not_asked, "the name is taken already, and two joints would be called the same", ("refuse",), REFUSE),
    Mistake(
        "both sides swapped", both_swapped, "a name that holds both sides was swapped; which side is it on? Refuse it", ("refuse",), REFUSE
    ),
    Mistake(
        "its own name taken",
        own_name_taken,
        "a name without a side keeps its name: it is taken by itself, which is no collision",
        ("stay",),
        STAY,
    ),
    Mistake("no side refused", sideless_refused, "a name without a side was refused; it stays as it is", ("stay",), STAY),
)

CHECKPOINT = Checkpoint(
    id="05.5",
    title="The name of the other side",
    kind="function",
    names={"swap_side": name_or_none()},
    claims=(
        Claim(
            "swap",
            "a side is swapped, wherever the word stands, from left and from right",
            2,
            named,
            "",
            look_at=WORDS,
            applies=of_kind("swap"),
        ),
        Claim("whole", "words that merely contain a side stay", 1, named, "", look_at=WORDS, applies=of_kind("whole")),
        Claim("stay", "a name without a side stays as it is", 1, named, "", look_at=STAY, applies=of_kind("stay")),
        Claim("refuse", "both sides in one name, or the new name taken: None", 2, named, "", look_at=REFUSE, applies=of_kind("refuse")),
    ),
    worked=swap_side,
    hint='words = name.split("_") gives the words; "_".join(words) puts them together again.\n'
    'First the names that need no thought: both "left" and "right" in words is None, neither of them is the name itself.\n'
    'Then a new list of words: "right" for "left", "left" for "right", every other word as it is. At the end look into taken.',
    mistakes=MISTAKES,
    cases=cases,
    closed=BOOK,
)
