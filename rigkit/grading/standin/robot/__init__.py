"""The robot while a notebook is graded: a chapter hands it out, `chapter.robot`; it can't be built anew."""

from rigkit.grading.standin.silent import closed

tally = closed("robot.tally")  # it knows the true joint positions
practice_limb = closed("robot.practice_limb")
