"""Chapter 13, long chains: three ways to bring the tip of Tally's hose to a target, what they have in common, and a limit at each joint.

A learner may write whichever of the three they like: 13.1 asks for what they have in common.
"""

from rigkit.course.chapters import chapter_13_chains, chapter_13_compare, chapter_13_limit, chapter_13_reach
from rigkit.course.checkpoint import Chapter

CHAPTER = Chapter(
    id="13",
    slug="long-chains",
    title="Long chains",
    minutes=60,
    idea="bring the tip of a long hose to a target, a step at a time, compare three ways to share the bend, and keep a limit",
    checkpoints=(chapter_13_reach.CHECKPOINT, chapter_13_compare.CHECKPOINT, chapter_13_limit.CHECKPOINT),
    given=chapter_13_chains.given,
    uses=("04.1",),
    recall=(
        (
            "A chain bends at a joint by 0 degrees. What do its two links do there? (chapter 04)",
            ("they go straight on", "they lie folded on each other", "they are square to each other"),
            0,
            "The bend is the outer angle: 0 for straight, 180 degrees for folded.",
        ),
        (
            "A joint of a chain turns. What moves? (chapter 02)",
            ("only the next joint", "all joints of the chain", "all that lies beyond it"),
            2,
            "Whatever is below it in the chain is carried along, as one hard piece.",
        ),
        (
            "Two bones and a target in reach. How many places can the elbow have, without a pole point? (chapter 06)",
            ("one", "a whole circle of them", "any place in space"),
            1,
            "The elbow can go round the line from root to target. With twelve links there are far more.",
        ),
    ),
    wrap_up=(
        (
            "Which of the three ways bends the hose most evenly?",
            ("sweeps", "passes", "damped steps"),
            2,
            "Damped steps turn all joints a little. Sweeps curl what lies near the tip. Idea 2.",
        ),
        (
            "A hose hangs straight down, and its target is on the same line, halfway. What does a pass of FABRIK do to it?",
            ("nothing for good: no link leaves the line", "it bends to the left", "it gives nan"),
            0,
            "Nothing tells it a side. Bend it a little first. Idea 1.",
        ),
        (
            "A limit is put on every joint. What of a target that the hose just reached before?",
            ("it is still reached", "it may be out of reach now", "the hose gets longer"),
            1,
            "A limit takes shapes away, and with them places of the tip. Idea 3.",
        ),
    ),
)
