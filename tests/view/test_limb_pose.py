"""Parts follow a limb rigidly, whichever way it bends."""

import numpy as np
import pytest

import rigkit as rk
from rigkit.view import limb_pose

REST = np.array([[0.2, 1.0, 0.0], [0.21, 0.75, -0.03], [0.22, 0.5, 0.0]])


def test_at_rest_nothing_turns():
    assert limb_pose.turns(REST, REST) == pytest.approx(np.tile(np.eye(3), (2, 1, 1)), abs=1e-12)


@pytest.mark.parametrize("target,pole", [((0.4, 0.8, 0.2), (0.2, 0.7, -0.5)), ((0.1, 0.9, 0.3), (0.9, 0.7, 0.0)), ((0.2, 1.3, 0.1), (0.2, 1.0, -1.0))])
def test_the_turned_bones_lie_where_the_solver_puts_them(target, pole):
    s = rk.limb.solve(*REST, target, pole)
    now = np.array([REST[0], s.mid, s.end])
    turns = limb_pose.turns(REST, now)
    for i in (0, 1):
        assert turns[i] @ (REST[i + 1] - REST[i]) == pytest.approx(now[i + 1] - now[i], abs=1e-9)
        assert turns[i] @ turns[i].T == pytest.approx(np.eye(3), abs=1e-12) and np.linalg.det(turns[i]) == pytest.approx(1)
        assert turns[i] @ rk.bend.normal(*REST) == pytest.approx(rk.bend.normal(*now), abs=1e-9)  # the hinge stays the hinge


def test_a_limb_that_goes_straight_keeps_the_hinge_it_is_told():
    now = np.array([[0, 1, 0], [0, 1, 0.25], [0, 1, 0.5]], float)
    turns = limb_pose.turns(REST, now, now_hinge=[1, 0, 0])
    assert np.isfinite(turns).all()
    assert turns[0] @ rk.bend.normal(*REST) == pytest.approx([1, 0, 0], abs=1e-9)


def test_joints_below_the_end_follow_the_lower_bone_and_the_rest_stays():
    skeleton = rk.Skeleton(["body", "shoulder", "elbow", "wrist", "finger", "head"], [-1, 0, 1, 2, 3, 0],
                           [[0, 1, 0], [0.2, 0, 0], [0.01, -0.25, -0.03], [0.01, -0.25, 0.03], [0, -0.1, 0], [0, 0.3, 0]], np.tile([0, 0, 0, 1.0], (6, 1)))
    rest = skeleton.forward().positions
    s = rk.limb.solve(*rest[1:4], (0.4, 0.9, 0.2), (0.2, 0.8, -0.5))
    now = np.array([rest[1], s.mid, s.end])
    turns = limb_pose.turns(rest[1:4], now)
    rotations, moves = limb_pose.motion(skeleton, rest, [1, 2, 3], now, turns)
    carried = np.einsum("jab,jb->ja", rotations, rest) + moves
    assert carried[1:4] == pytest.approx(now, abs=1e-9)
    assert carried[4] - carried[3] == pytest.approx(turns[1] @ (rest[4] - rest[3]), abs=1e-12)
    assert carried[[0, 5]] == pytest.approx(rest[[0, 5]])
