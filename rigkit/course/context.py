"""What a check measures an answer against: the learner's variant of the robot, and the cases a function is tried on."""

import hashlib

import numpy as np

from rigkit.course.checkpoint import Context


def context(chapter, variant, robot=None):
    """Return the Context of a chapter for one variant: the true robot and what the notebook is handed.

    robot: tally(variant), for those who have it already.
    """
    if robot is None:
        from rigkit.robot import tally
        robot = tally(variant)
    return Context(variant, robot, chapter.given(robot, variant))


def cases(checkpoint, context, seed=None):
    """Return the list of cases a checkpoint is tried on.

    seed: None for those of the learner's notebook, the same on every run; grading
    gives bytes of its own, so that the inputs are others.
    """
    return list(checkpoint.cases(np.random.default_rng(_entropy(checkpoint.id, context.variant, seed)), context))


def _entropy(checkpoint, variant, seed):
    told = seed if seed is not None else f"{checkpoint} {variant}".encode()
    return int.from_bytes(hashlib.sha256(told).digest()[:16], "big")
