"""Checkpoint 12.7: a note of half a page that goes with the rig; a human reads it."""

from rigkit.course import forms
from rigkit.course.checkpoint import Checkpoint, Claim, Measure

NOTE_TEXT = (
    "This is Tally's rig, 46 joints and 29 controls, in metres, +y up, facing +z. Take hold of the square on the floor to move all of it, of the "
    "ring at the drum to move the body; the feet stay. Hands and feet have a target each, a marker behind the elbow and in front of the knee, and "
    "a channel called blend that goes over to turned controls. Roll, tilt and swivel are on the foot. Checked: the audit has no open finding on my robot "
    "nor on one of other measures; each channel was taken to both ends; the walk of seven cycles keeps every rule, its feet slide by less than 0.1 mm. Not "
    "good yet: with the body more than 75 mm aside, a leg is out of reach, for stretch is 0 at home. An elbow bends to 100 degrees from straight, not more. "
    "Elsewhere you get joints, weights and the walk as keys; controls, links and ranges stay with us, and sleeves blend linearly. Questions: ask me first "
    "before you move a joint, for outlines and pivots are made from them. Run build(model) again and all follows."
)


def read_by_a_human(case, answer, context):
    """A person reads it."""
    return Measure(True)


CHECKPOINT = Checkpoint(
    id="12.7",
    title="The note that goes with it",
    kind="text",
    names={"note": forms.text(90)},
    claims=(
        Claim("use", "says how to take hold of it: which control for what, and what its home is", 1, read_by_a_human),
        Claim("tested", "says what was checked, with at least two numbers of your own", 1, read_by_a_human),
        Claim("limits", "says what it can't do, with the number at which it stops", 1, read_by_a_human),
        Claim("travel", "says what others get in the file, and what they don't", 1, read_by_a_human),
    ),
    worked=lambda context: {"note": NOTE_TEXT},
    hint="Write to the person who opens it on Monday, while you are away. What will they take hold of first? What will they try that fails?\n"
    "Four short paragraphs: use, tested, limits, elsewhere. Numbers from 12.1, 12.3, 12.4 and 12.6.",
)
