"""The walk of Tally beside the published gait cycle.

Source of every number below, unless another is named: J. Perry, Gait Analysis: Normal and Pathological Function (1992), the
phases and the knee's and ankle's motion in them (REFERENCE row: initial contact 0, loading 0-12, mid stance 12-31, terminal
stance 31-50, pre-swing 50-62, swing 62-100 percent; knee 0-5, 20, 0-5, 0-5, 40, then 60-70 degrees in swing) (memory).
"""

import numpy as np
import pytest
from scipy.signal import find_peaks

import rigkit as rk
from rigkit.acceptance import carried
from rigkit.robot.rig import tally_rig
from rigkit.walk import walk

CYCLE = np.linspace(0.0, 1.0, 401)[:-1]
FLOOR = 1e-4  # metres: a point this near to the floor touches it


@pytest.fixture(scope="module", params=[0, 12, 77])
def gait(request):
    rig = tally_rig(request.param)
    found = walk(rig, "centre_body_control")
    return rig, found, rig.pose(found.motion.sample(CYCLE * found.motion.period))


def heights(gait, side):
    """(heel, toe): how high each is over the leg's own cycle."""
    rig, found, pose = gait
    points = [(joint, point) for joint, point in found.soles if joint.startswith(side)][:2]
    shift = 0 if side == "left" else len(CYCLE) // 2
    return [np.roll(carried(rig, pose, joint, point)[:, 1], shift) for joint, point in points]


def knee(gait, side):
    rig, _, pose = gait
    joints = [pose.positions[:, rig.skeleton.index(f"{side}_{n}_joint")] for n in ("hip", "knee", "ankle")]
    return np.roll(np.degrees(rk.bend.angle(*joints)), 0 if side == "left" else len(CYCLE) // 2)


def first(condition):
    return CYCLE[np.argmax(condition)]


@pytest.mark.source("Perry")
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_phases_of_contact_are_the_published_ones(gait, side):
    heel, toe = heights(gait, side)
    assert heel[0] < FLOOR and toe[0] > 0.02  # the heel first
    assert first(toe < FLOOR) == pytest.approx(0.12, abs=0.015)  # the foot is flat at the end of loading
    assert first(heel > FLOOR) == pytest.approx(0.31, abs=0.015)  # the heel rises at the end of mid stance
    off = CYCLE[(CYCLE > 0.4) & (toe > FLOOR)][0]
    assert off == pytest.approx(0.62, abs=0.015)  # the toe leaves at the end of pre-swing
    swing = (CYCLE > 0.64) & (CYCLE < 0.98)
    assert heel[swing].min() > FLOOR and toe[swing].min() > FLOOR


@pytest.mark.source("Perry")
def test_the_other_leg_is_half_a_cycle_away_and_both_carry_for_12_percent_twice(gait):
    both = [min(np.minimum(*heights(gait, side))) for side in ("left", "right")]
    assert max(both) < FLOOR
    left, right = (np.minimum(*heights(gait, side)) < FLOOR for side in ("left", "right"))
    right = np.roll(right, -len(CYCLE) // 2)  # back to the left leg's cycle
    assert (left & right).mean() == pytest.approx(0.24, abs=0.03)
    assert left.mean() == pytest.approx(0.62, abs=0.015)
    assert (left | right).all()  # in a walk one foot always stands


@pytest.mark.source("Perry")
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_knee_bends_as_published(gait, side):
    # Nearly straight the knee is touchy (a quarter of a millimetre is five degrees), so the walk keeps 5 to 10 where 0 to 5 is published.
    bend = knee(gait, side)

    def at(percent):
        return bend[np.argmin(np.abs(CYCLE - percent / 100))]

    assert 0 <= at(0) <= 10
    loading = bend[(CYCLE > 0.08) & (CYCLE < 0.22)].max()
    assert loading == pytest.approx(20, abs=5)
    assert 0 <= bend[(CYCLE > 0.31) & (CYCLE < 0.50)].min() <= 10
    assert at(62) == pytest.approx(40, abs=5)
    swing = bend[CYCLE > 0.62]
    assert 60 <= swing.max() <= 70
    assert 0.68 <= CYCLE[bend.argmax()] <= 0.78
    assert (bend > 2).all()


@pytest.mark.source("Perry", "SciPy")
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_knee_has_two_waves_a_small_one_and_a_large_one(gait, side):
    bend = knee(gait, side)
    peaks, _ = find_peaks(np.tile(bend, 3), prominence=3.0)
    assert len([i for i in peaks if len(bend) <= i < 2 * len(bend)]) == 2


def dorsal(gait, side):
    """How far the foot is bent up against the shank, degrees: 0 where they stand square, below zero the toes point down."""
    rig, _, pose = gait
    i, rest = rig.skeleton.index(f"{side}_ankle_joint"), rig.skeleton.rest_world
    turned = rk.rotation.multiply(pose.rotations[:, i], rk.rotation.invert(rest.rotations[i]))
    shank = pose.positions[:, rig.skeleton.index(f"{side}_knee_joint")] - pose.positions[:, i]
    along = np.einsum("ni,ni->n", shank / np.linalg.norm(shank, axis=1, keepdims=True), rk.rotation.rotate(turned, [0.0, 0, 1]))
    return np.roll(np.degrees(np.arcsin(along)), 0 if side == "left" else len(CYCLE) // 2)


@pytest.mark.source("Perry")
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_ankle_is_bent_up_in_terminal_stance_as_published(gait, side):
    # Perry: dorsal 10 degrees in terminal stance. What else is published of the ankle (toes down 5-10 at loading, 15 at
    # pre-swing) this walk does not follow: its foot is carried by the roll alone, -1 to +3 at loading and +15 to +20 at pre-swing.
    stance = dorsal(gait, side)[(CYCLE > 0.31) & (CYCLE < 0.50)]
    assert stance.mean() == pytest.approx(10, abs=5)
    assert stance[-1] > stance[0] + 5  # it grows while the body goes over the foot


@pytest.mark.source("Perry")
def test_the_body_is_lowest_with_both_feet_down_and_rises_twice(gait):
    # Common knowledge of walking, with Perry's account of the body's path: two rises a cycle, lowest in double support.
    rig, _, pose = gait
    height = pose.positions[:, rig.skeleton.index("centre_body_joint"), 1]
    half = len(CYCLE) // 2
    np.testing.assert_allclose(height[:half], height[half:], atol=1e-6)
    low = CYCLE[height[:half].argmin()]
    assert low < 0.12 or low > 0.45
    assert 0.003 < np.ptp(height) < 0.03


def test_arms_swing_against_the_legs(gait):
    rig, found, _ = gait
    pose = rig.pose(found.motion.sample([0.0]))
    z = {n: pose.positions[0, rig.skeleton.index(f"{n}_joint"), 2] for n in ("left_wrist", "right_wrist", "left_ankle", "right_ankle")}
    assert (z["left_ankle"] > z["right_ankle"]) and (z["left_wrist"] < z["right_wrist"])
