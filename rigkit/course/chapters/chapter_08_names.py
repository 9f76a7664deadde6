"""Checkpoint 08.1: names, colours and line styles for a whole set, by the course's rule.

side_part_kind, small letters, whole words. What is there more than once on a side
is a series: each gets two digits inside the name. The side is the row's own word and
no letters inside another. Colours: Okabe and Ito (2002; Wong, Nature Methods 8:441,
2011). Cool for the character's left and warm for its right is common practice, no source.
"""

from rigkit.course import forms
from rigkit.course.checkpoint import Case, Checkpoint, Claim, Measure, Mistake
from rigkit.words import SIDE_COLOUR, SIDE_LINE

PATTERN, SERIES, SIDES = (
    "idea 1, the pattern of a name",
    "idea 1, a series",
    "idea 1, the look of a side",
)
CALL = ("rows",)
PARTS = (
    "shoulder",
    "hip",
    "ankle",
    "upper arm",
    "gripper plate",
    "ball",
    "head",
    "lamp",
    "Bright Lamp",
    "copyright plate",
    "leftover hook",
)


def label(rows):
    """The worked answer: (name, colour, line style) of each row (side, part, kind), in order."""
    tidy = [tuple("_".join(text.lower().split()) for text in row) for row in rows]
    labels = []
    for i, (side, part, kind) in enumerate(tidy):
        words = part.split("_")
        if tidy.count(tidy[i]) > 1:
            words.insert(1, f"{tidy[: i + 1].count(tidy[i]):02d}")
        labels.append(("_".join([side, *words, kind]), SIDE_COLOUR[side], SIDE_LINE[side]))
    return labels


# ---- the claims ------------------------------------------------------------------------------------------------


def tidy_rows(case):
    """The rows as small letters without blanks, and for each whether it is one of a series."""
    tidy = [tuple("_".join(str(text).lower().split()) for text in row) for row in case.inputs["rows"]]
    return tidy, [tidy.count(row) > 1 for row in tidy]


def compared(column, wanted=lambda case: None, same=lambda a, b: a == b):
    """A measure: one of the three things told of each row; wanted(case): the rows looked at, all by default."""

    def measure(case, answer, context):
        right = label(case.inputs["rows"])
        if len(answer) != len(right):
            return Measure(
                False,
                f"{len(right)} labels, one for each row",
                f"{len(answer)} labels",
                len(right),
            )
        rows = wanted(case)
        looked = range(len(right)) if rows is None else rows
        wrong = [i for i in looked if not same(answer[i][column], right[i][column])]
        if not wrong:
            return Measure(True, "as the rule says", "as the rule says")
        row = ", ".join(case.inputs["rows"][wrong[0]])
        rest = f", and {len(wrong) - 1} more rows wrong" if len(wrong) > 2 else ", and one more row wrong" if len(wrong) > 1 else ""
        return Measure(
            False,
            f"{right[wrong[0]][column]!r} for the row {row}",
            f"{answer[wrong[0]][column]!r}{rest}",
            len(wrong),
        )

    return measure


def single(case):
    """The rows that are there once."""
    return [i for i, many in enumerate(tidy_rows(case)[1]) if not many]


def serial(case):
    """The rows that are members of a series."""
    return [i for i, many in enumerate(tidy_rows(case)[1]) if many]


def has_series(case):
    """Whether a case holds a series."""
    return bool(serial(case))


def caseless(a, b):
    """Whether two texts are the same but for capitals."""
    return a.casefold() == b.casefold()


# ---- the cases -------------------------------------------------------------------------------------------------


def cases(rng, context):
    """Three rows, rows as a designer writes them, series of several kinds, sides inside words, and a whole set."""
    fingers = [("left", "finger", "control")] * 3
    return [
        case(
            "three rows",
            [
                ("left", "foot", "control"),
                ("right", "foot", "control"),
                ("centre", "body", "control"),
            ],
        ),
        case(
            "capitals and blanks",
            [("Left", "Upper Arm", "Control"), ("Centre", "gripper plate", "control")],
        ),
        case("three fingers", fingers),
        case(
            "fingers on both sides",
            [
                *fingers,
                ("left", "hand", "control"),
                *[("right", *row[1:]) for row in fingers],
            ],
        ),
        case(
            "a part of two words",
            [("left", "finger base", "joint")] * 3 + [("left", "finger tip", "joint")],
        ),
        case(
            "one part, two kinds",
            [
                ("left", "eye", "control"),
                ("left", "eye", "joint"),
                ("right", "eye", "control"),
            ],
        ),
        case(
            "sides inside words",
            [
                ("centre", "bright lamp", "control"),
                ("centre", "leftover hook", "control"),
            ],
        ),
        case("a series of twelve", [("centre", "hose", "joint")] * 12),
        case(
            "mixed spelling",
            [
                ("left", "Finger", "control"),
                ("Left", "finger", "Control"),
                ("right", "finger", "control"),
            ],
        ),
        case("a whole set", whole_set(rng)),
    ]


def whole_set(rng):
    """A score of rows in any order, some of them in series."""
    sides = ("left", "right", "centre")
    rows = [(str(rng.choice(sides)), str(part), "control") for part in rng.permutation(PARTS)]
    rows += [("left", "finger", "control")] * 3 + [
        ("right", "elbow", "marker"),
        ("left", "elbow", "marker"),
    ]
    rows += [(str(rng.choice(sides)), "hose rib", "joint")] * int(rng.integers(4, 11))
    return [rows[i] for i in rng.permutation(len(rows))]


def case(about, rows):
    """A Case; a panel tells how many rows there are."""
    return Case(about, {"rows": [tuple(row) for row in rows]})


# ---- the planned mistakes ---------------------------------------------------------------------------------------


def counter_at_the_end(rows):
    """left_finger_control_02."""
    tidy = [tuple("_".join(text.lower().split()) for text in row) for row in rows]
    labels = []
    for i, (side, part, kind) in enumerate(tidy):
        name = f"{side}_{part}_{kind}"
        if tidy.count(tidy[i]) > 1:
            name = f"{name}_{tidy[: i + 1].count(tidy[i]):02d}"
        labels.append((name, SIDE_COLOUR[side], SIDE_LINE[side]))
    return labels


def counter_behind_the_part(rows):
    """left_finger_base_01_joint."""
    tidy = [tuple("_".join(text.lower().split()) for text in row) for row in rows]
    labels = []
    for i, (side, part, kind) in enumerate(tidy):
        number = f"_{tidy[: i + 1].count(tidy[i]):02d}" if tidy.count(tidy[i]) > 1 else ""
        labels.append((f"{side}_{part}{number}_{kind}", SIDE_COLOUR[side], SIDE_LINE[side]))
    return labels


def one_digit(rows):
    """left_finger_1_control."""
    tidy = [tuple("_".join(text.lower().split()) for text in row) for row in rows]
    labels = []
    for i, (side, part, kind) in enumerate(tidy):
        words = part.split("_")
        if tidy.count(tidy[i]) > 1:
            words.insert(1, str(tidy[: i + 1].count(tidy[i])))
        labels.append(("_".join([side, *words, kind]), SIDE_COLOUR[side], SIDE_LINE[side]))
    return labels


def counted_from_zero(rows):
    """left_finger_00_control."""
    tidy = [tuple("_".join(text.lower().split()) for text in row) for row in rows]
    labels = []
    for i, (side, part, kind) in enumerate(tidy):
        words = part.split("_")
        if tidy.count(tidy[i]) > 1:
            words.insert(1, f"{tidy[:i].count(tidy[i]):02d}")
        labels.append(("_".join([side, *words, kind]), SIDE_COLOUR[side], SIDE_LINE[side]))
    return labels


def all_numbered(rows):
    """left_foot_01_control, though there is only one."""
    tidy = [tuple("_".join(text.lower().split()) for text in row) for row in rows]
    labels = []
    for i, (side, part, kind) in enumerate(tidy):
        words = part.split("_")
        words.insert(1, f"{tidy[: i + 1].count(tidy[i]):02d}")
        labels.append(("_".join([side, *words, kind]), SIDE_COLOUR[side], SIDE_LINE[side]))
    return labels


def counted_across_sides(rows):
    """left_finger_01, right_finger_02: the count goes on over the sides."""
    tidy = [tuple("_".join(text.lower().split()) for text in row) for row in rows]
    plain = [row[1:] for row in tidy]
    labels = []
    for i, (side, part, kind) in enumerate(tidy):
        words = part.split("_")
        if plain.count(plain[i]) > 1:
            words.insert(1, f"{plain[: i + 1].count(plain[i]):02d}")
        labels.append(("_".join([side, *words, kind]), SIDE_COLOUR[side], SIDE_LINE[side]))
    return labels


def counted_before_tidying(rows):
    """Finger and finger are counted apart."""
    tidy = [tuple("_".join(text.lower().split()) for text in row) for row in rows]
    labels = []
    for i, (side, part, kind) in enumerate(tidy):
        words = part.split("_")
        if rows.count(rows[i]) > 1:
            words.insert(1, f"{rows[: i + 1].count(rows[i]):02d}")
        labels.append(("_".join([side, *words, kind]), SIDE_COLOUR[side], SIDE_LINE[side]))
    return labels


def counted_across_kinds(rows):
    """left_eye_01_control, left_eye_02_joint: the count goes on over the kinds."""
    tidy = [tuple("_".join(text.lower().split()) for text in row) for row in rows]
    parts = [row[:2] for row in tidy]
    labels = []
    for i, (side, part, kind) in enumerate(tidy):
        words = part.split("_")
        if parts.count(parts[i]) > 1:
            words.insert(1, f"{parts[: i + 1].count(parts[i]):02d}")
        labels.append(("_".join([side, *words, kind]), SIDE_COLOUR[side], SIDE_LINE[side]))
    return labels


def no_number(rows):
    """Every finger has one name."""
    tidy = [tuple("_".join(text.lower().split()) for text in row) for row in rows]
    return [(f"{side}_{part}_{kind}", SIDE_COLOUR[side], SIDE_LINE[side]) for side, part, kind in tidy]


def as_written(rows):
    """Joined as they came: capitals and blanks stay."""
    labels = []
    for i, (side, part, kind) in enumerate(rows):
        words = part.split(" ")
        if rows.count(rows[i]) > 1:
            words.insert(1, f"{rows[: i + 1].count(rows[i]):02d}")
        labels.append(
            (
                "_".join([side, " ".join(words), kind]),
                SIDE_COLOUR[side.lower()],
                SIDE_LINE[side.lower()],
            )
        )
    return labels


def kind_first(rows):
    """control_left_foot."""
    return [("_".join([name.split("_")[-1], *name.split("_")[:-1]]), colour, line) for name, colour, line in label(rows)]


def side_by_letters(rows):
    """The side is looked for in the letters of the name: bright is right."""
    labels = []
    for name, _, _ in label(rows):
        side = "left" if "left" in name else "right" if "right" in name else "centre"
        labels.append((name, SIDE_COLOUR[side], SIDE_LINE[side]))
    return labels


def warm_left(rows):
    """The two colours exchanged."""
    other = {
        SIDE_COLOUR["left"]: SIDE_COLOUR["right"],
        SIDE_COLOUR["right"]: SIDE_COLOUR["left"],
    }
    return [(name, other.get(colour, colour), line) for name, colour, line in label(rows)]


def one_line_style(rows):
    """All lines solid."""
    return [(name, colour, "solid") for name, colour, _ in label(rows)]


MISTAKES = (
    Mistake(
        "counter at the end",
        counter_at_the_end,
        "the number stands at the end: that is how a copy is named, not a series",
        ("series",),
        SERIES,
    ),
    Mistake(
        "counter behind the part",
        counter_behind_the_part,
        "the number stands behind the whole part; it belongs behind the part's first word",
        ("series",),
        SERIES,
    ),
    Mistake(
        "one digit",
        one_digit,
        "one digit: in a sorted list 10 comes before 2. Two digits, 02",
        ("series",),
        SERIES,
    ),
    Mistake(
        "counted from zero",
        counted_from_zero,
        "the count begins at 00; a series begins at 01",
        ("series",),
        SERIES,
    ),
    Mistake(
        "all numbered",
        all_numbered,
        "what is there only once carries a number too",
        ("names",),
        SERIES,
    ),
    Mistake(
        "counted across sides",
        counted_across_sides,
        "the count goes on from one side to the other: each side has a series of its own",
        ("names", "series"),
        SERIES,
    ),
    Mistake(
        "counted before tidying",
        counted_before_tidying,
        "rows were compared as they came: 'Finger' and 'finger' are one series. Make them tidy first, then count",
        ("series",),
        SERIES,
    ),
    Mistake(
        "counted across kinds",
        counted_across_kinds,
        "the count goes on from one kind to the next: each kind counts for itself",
        ("names",),
        SERIES,
    ),
    Mistake(
        "no number",
        no_number,
        "members of a series share one name: nobody can tell which is meant",
        ("series",),
        SERIES,
    ),
    Mistake(
        "as written",
        as_written,
        "capitals and blanks are left as the row has them",
        ("names",),
        PATTERN,
    ),
    Mistake(
        "kind first",
        kind_first,
        "the kind stands first; the order is side, part, kind",
        ("names", "series"),
        PATTERN,
    ),
    Mistake(
        "side by letters",
        side_by_letters,
        "the side was looked for in letters: 'bright' holds 'right', 'leftover' holds 'left'",
        ("colour", "line"),
        SIDES,
    ),
    Mistake(
        "warm left",
        warm_left,
        "warm and cool are exchanged: sky blue is the robot's left, orange its right",
        ("colour",),
        SIDES,
    ),
    Mistake(
        "one line style",
        one_line_style,
        "all lines are solid: who can't tell the colours has nothing left",
        ("line",),
        SIDES,
    ),
)

CHECKPOINT = Checkpoint(
    id="08.1",
    title="Names and looks for a set",
    kind="function",
    names={"label": forms.listing(forms.several(forms.string(), forms.string(), forms.string()))},
    claims=(
        Claim(
            "names",
            "what is there once: side, part, kind, in small letters and whole words",
            2,
            compared(0, single),
            "",
            look_at=PATTERN,
            applies=lambda case: bool(single(case)),
        ),
        Claim(
            "series",
            "a series: two digits behind the part's first word, each side from 01",
            2,
            compared(0, serial),
            "",
            look_at=SERIES,
            applies=has_series,
        ),
        Claim(
            "colour",
            "the colour of the side",
            1,
            compared(1, same=caseless),
            "",
            look_at=SIDES,
        ),
        Claim(
            "line",
            "the line style of the side",
            1,
            compared(2, same=caseless),
            "",
            look_at=SIDES,
        ),
    ),
    worked=label,
    hint='Make each row tidy first: "_".join(text.lower().split()) for each of its three texts.\n'
    "Rows that are equal now are a series: tidy.count(row) says how many there are, tidy[: i + 1].count(row) which one this is.\n"
    'words = part.split("_"), then words.insert(1, f"{number:02d}"). Colour and line: by the row\'s own side, from rk.words.',
    mistakes=MISTAKES,
    cases=cases,
    closed=("naming.build",),
)
