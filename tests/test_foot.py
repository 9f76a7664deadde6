"""Feet that roll: pivots, the stack, contact. The oracle for turns about a point is transforms3d (PyPI, BSD)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from transforms3d.axangles import axangle2aff

import rigkit as rk
from rigkit import foot, frame
from tests.strategies import numbers, turns, vectors

NO_TURN = [0.0, 0.0, 0.0, 1.0]
SOLE = np.array([[-0.03, 0, -0.06], [0.02, 0, -0.07], [0.04, 0, 0.05], [0.03, 0, 0.12], [0.0, 0, 0.14], [-0.03, 0, 0.1]])
BALL = np.array([0.0, 0.02, 0.09])
LEFT = foot.pivots(SOLE, BALL, "left")
CHANNELS = ("roll", "tilt", "swivel", "heel_swivel", "toe_swivel")

rolls = numbers(-np.pi / 2, np.pi / 2 + foot.TURN_OVER)
tilts = numbers(-np.pi / 2, np.pi / 2)
swivels = numbers(-3, 3)
channels = st.fixed_dictionaries(dict(roll=rolls, tilt=tilts, swivel=swivels, heel_swivel=swivels, toe_swivel=swivels))


@st.composite
def soles(draw):
    """A flat outline of 6 to 12 points around the origin, and a ball joint over it."""
    count = draw(st.integers(6, 12))
    radius = draw(vectors(0.03, 0.2, (count,)))
    around = np.arange(count) * 2 * np.pi / count
    outline = np.stack([0.4 * radius * np.cos(around), 0 * radius, radius * np.sin(around)], axis=1)
    low, high = outline[:, 2].min(), outline[:, 2].max()
    return outline, np.array([0.0, draw(numbers(0, 0.05)), low + draw(numbers(0.3, 0.95)) * (high - low)])


def below(lift):
    return -lift.min()


# ---- pivots ---------------------------------------------------------------------------------------------------------


def test_pivots_are_the_farthest_points_of_the_sole():
    np.testing.assert_array_equal(LEFT.heel, [0.02, 0, -0.07])
    np.testing.assert_array_equal(LEFT.toe, [0, 0, 0.14])
    np.testing.assert_array_equal(LEFT.outer, [0.04, 0, 0.05])
    np.testing.assert_allclose(LEFT.inner, [-0.03, 0, 0.02])  # two points as far: the middle between them
    np.testing.assert_array_equal(LEFT.ball, BALL)


def test_the_edges_of_a_mirrored_foot_swap_sides():
    mirrored = foot.pivots(SOLE * [-1, 1, 1], BALL, "right")
    for name in ("heel", "toe", "inner", "outer", "ball"):
        np.testing.assert_array_equal(getattr(mirrored, name), getattr(LEFT, name) * [-1, 1, 1])


def test_edges_that_are_not_swapped_go_under_the_floor():
    """By width times the sine of the tilt: 70 mm and 20 degrees make 24 mm."""
    wrong = foot.pivots(SOLE, BALL, "right")
    assert foot.carried(SOLE, LEFT, foot.stack(LEFT, tilt=np.radians(20)))[:, 1].min() > -1e-12
    swapped = foot.Pivots(LEFT.heel, BALL, LEFT.toe, inner=LEFT.outer, outer=LEFT.inner, outward=LEFT.outward)
    heights = foot.carried(SOLE, swapped, foot.stack(swapped, tilt=np.radians(20)))[:, 1]
    assert below(heights) == pytest.approx(0.07 * np.sin(np.radians(20)))
    assert wrong.outer[0] == -0.03


def test_a_heel_that_turns_the_wrong_way_puts_the_toes_under_the_floor():
    """By length times the sine: 210 mm and 20 degrees make 72 mm. So the sign of the heel roll can be seen."""
    right = foot.stack(LEFT, roll=-np.radians(20))
    assert foot.carried(SOLE, LEFT, right)[:, 1].min() > -1e-12
    turn, _ = right.heel
    wrong = rk.rotation.rotate(rk.rotation.invert(turn), SOLE - LEFT.heel)
    assert below(wrong[:, 1]) == pytest.approx(0.21 * np.sin(np.radians(20)))


def test_the_pivot_of_a_straight_edge_is_in_its_middle_also_where_the_model_is_rounded():
    """Two heel corners a tenth of a millimetre apart: the farther says how far, both say where the middle is."""
    blunt = np.array([[-0.03, 0, -0.07], [0.04, 0, -0.0701], [0.04, 0, 0.14], [-0.03, 0, 0.14]])
    np.testing.assert_allclose(foot.pivots(blunt, BALL, "left").heel, [0.005, 0, -0.0701], atol=1e-12)


def test_an_uneven_sole_has_all_its_pivots_on_the_floor():
    """A heel corner that stands up by a tenth of a millimetre says how far back, not how high."""
    for raised in (SOLE[:, 2:] < -0.06, SOLE[:, :1] > 0):
        p = foot.pivots(SOLE + [0, 1e-4, 0] * raised, BALL, "left")
        assert {float(point[1]) for point in (p.heel, p.toe, p.inner, p.outer)} == {0.0}


def test_the_toes_stay_down_while_the_ball_lifts_the_heel():
    """The ball joint's own frame goes with the toes: flat up to the turn-over angle, then turned by what is more."""
    rest = (NO_TURN, BALL)
    for degrees, toes in ((20, 0), (30, 0), (45, 15), (-10, -10)):
        ankle, ball = foot.joints((NO_TURN, np.zeros(3)), (NO_TURN, [0, 0.08, 0]), rest, foot.stack(LEFT, roll=np.radians(degrees)))
        for found, turned in ((ankle, degrees), (ball, toes)):
            assert np.degrees(rk.rotation.twist_angle(found[0], [1, 0, 0])) == pytest.approx(turned)
            assert rk.rotation.angle(found[0], NO_TURN) == pytest.approx(np.radians(abs(turned)))


def test_a_sole_in_the_air_has_its_pivots_at_its_lowest():
    lifted = foot.pivots(SOLE + [0, 0.3, 0], BALL + [0, 0.3, 0], "left")
    np.testing.assert_allclose(lifted.heel, LEFT.heel + [0, 0.3, 0])


@pytest.mark.parametrize("variant", [0, 7, 42])
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_pivots_of_the_robot_are_where_it_was_built(variant, side):
    """The robot's own marks come from its table of measures, the pivots from its mesh alone."""
    robot = rk.tally(variant)
    at = {name: robot.landmarks[f"{side}_{name}"] for name in ("ankle", "ball", "heel", "sole_toe", "sole_inner", "sole_outer")}
    own = foot.own_frame(at["ankle"], at["ball"])
    shells = np.concatenate([robot.part(f"{side}_{part}").mesh.vertices for part in ("heel_block", "toe_cap")])
    found = foot.pivots(foot.sole(frame.to_local(own, shells)), frame.to_local(own, at["ball"]), side)
    for name, mark in (("heel", "heel"), ("toe", "sole_toe"), ("inner", "sole_inner"), ("outer", "sole_outer")):
        built = frame.to_local(own, at[mark])
        along = {"heel": 2, "toe": 2, "inner": 0, "outer": 0}[name]
        np.testing.assert_allclose(getattr(found, name)[[1, along]], built[[1, along]], atol=1e-9)


def test_the_sole_is_what_stands_on_the_floor():
    bulging = np.vstack([SOLE, SOLE * 1.3 + [0, 0.02, 0], [[0.5, 2e-4, 0]]])
    np.testing.assert_array_equal(foot.sole(bulging), SOLE)
    assert len(foot.sole(bulging, within=1e-3)) == len(SOLE) + 1


def test_the_own_frame_stands_under_the_ankle_and_looks_to_the_ball():
    turn, place = foot.own_frame([0.2, 0.08, 0.1], [0.3, 0.02, 0.2])
    np.testing.assert_allclose(place, [0.2, 0, 0.1])
    np.testing.assert_allclose(rk.rotation.rotate(turn, [0, 0, 1]), np.array([1, 0, 1]) / np.sqrt(2), atol=1e-12)
    np.testing.assert_allclose(rk.rotation.rotate(turn, [0, 1, 0]), [0, 1, 0], atol=1e-12)
    raised = foot.own_frame([0.2, 0.58, 0.1], [0.3, 0.52, 0.2], floor=0.5)[1]
    np.testing.assert_allclose(raised, [0.2, 0.5, 0.1])
    many = foot.own_frame([[0.2, 0.08, 0.1], [0, 1, 0]], [[0.3, 0.02, 0.2], [0, 0.9, 1]])
    np.testing.assert_allclose(many[0][0], turn)


# ---- one roll -------------------------------------------------------------------------------------------------------


@given(numbers(-3, 3), numbers(0, 2))
def test_heel_ball_and_toe_add_up_to_the_roll(roll, turn_over):
    heel, ball, toe = foot.shares(roll, turn_over)
    assert heel + ball + toe == pytest.approx(roll, abs=1e-15)
    assert heel <= 0 <= toe and 0 <= ball <= turn_over


@given(numbers(-3, 3), numbers(-3, 3), numbers(0, 2))
def test_no_share_changes_faster_than_the_roll(a, b, turn_over):
    """So there is no jump, neither at rest nor at the turn-over angle."""
    one, two = foot.shares(a, turn_over), foot.shares(b, turn_over)
    assert all(abs(x - y) <= abs(a - b) + 1e-15 for x, y in zip(one, two))


def test_the_heel_never_drops_while_the_roll_goes_on():
    """A ball that fades out lets the heel drop though the roll grows; one that keeps its angle does not. Up to a quarter turn."""
    roll = np.radians(np.linspace(0, 90, 181))
    heel = frame.to_world(foot.stack(LEFT, roll=roll).ball, LEFT.heel)[:, 1]
    assert (np.diff(heel) > 0).all()
    ball = np.clip(np.radians(45) - 3 * np.maximum(roll - np.radians(45), 0), 0, roll)  # the mistake, ball gone at 60 degrees and no toe
    faded = foot.stack(LEFT, roll=ball, turn_over=np.pi)
    assert (np.diff(frame.to_world(faded.ball, LEFT.heel)[:, 1]) < -1e-4).any()


# ---- the stack ------------------------------------------------------------------------------------------------------


def test_at_zero_the_foot_is_exactly_at_rest():
    at_rest = foot.stack(LEFT)
    for turn, place in (at_rest.swivel, at_rest.edge, at_rest.heel, at_rest.toe, at_rest.ball):
        assert turn.tolist() == NO_TURN and not place.any()
    own = rk.rotation.from_axis_angle([0, 1, 0], 0.3), np.array([0.1, 0, 0.2])
    ankle = rk.rotation.from_axis_angle([1, 2, 3], 0.7), np.array([0, 0.08, 0.01])
    ball = rk.rotation.from_axis_angle([3, 2, 1], 0.2), BALL
    for found, joint in zip(foot.joints(own, ankle, ball, at_rest), (ankle, ball)):
        expected = frame.compose(own, joint)
        assert found[0].tolist() == expected[0].tolist() and found[1].tolist() == expected[1].tolist()


@pytest.mark.source("transforms3d")
@given(channels)
def test_the_stack_is_a_product_of_turns_about_its_pivots(c):
    """Against transforms3d.axangles.axangle2aff, a turn about an axis through a point, multiplied from outside to inside."""
    heel, ball, toe = foot.shares(c["roll"])
    swivel = axangle2aff([0, 1, 0], c["swivel"], LEFT.ball) @ axangle2aff([0, 1, 0], c["heel_swivel"], LEFT.heel)
    swivel = swivel @ axangle2aff([0, 1, 0], c["toe_swivel"], LEFT.toe)
    edge = swivel @ axangle2aff([0, 0, 1], -c["tilt"], LEFT.outer if c["tilt"] > 0 else LEFT.inner)
    toes = edge @ axangle2aff([1, 0, 0], heel, LEFT.heel) @ axangle2aff([1, 0, 0], toe, LEFT.toe)
    found = foot.stack(LEFT, **c)
    expected = {"swivel": swivel, "edge": edge, "toe": toes, "ball": toes @ axangle2aff([1, 0, 0], ball, LEFT.ball)}
    for name, matrix in expected.items():
        np.testing.assert_allclose(frame.to_matrix(getattr(found, name)), matrix, atol=1e-12)


@given(soles(), st.sampled_from(["left", "right"]), channels)
def test_nothing_of_the_sole_goes_under_the_floor(sole, side, c):
    outline, ball = sole
    p = foot.pivots(outline, ball, side)
    assert foot.carried(outline, p, foot.stack(p, **c))[:, 1].min() > -1e-9


@given(soles(), st.sampled_from(["left", "right"]), rolls, tilts, swivels)
def test_the_active_pivot_does_not_slide(sole, side, roll, tilt, swivel):
    p = foot.pivots(*sole, side)
    stays = foot.stack(p, roll=roll)
    if roll < 0:
        np.testing.assert_allclose(frame.to_world(stays.ball, p.heel), p.heel, atol=1e-12)
    else:
        np.testing.assert_allclose(frame.to_world(stays.toe, p.toe), p.toe, atol=1e-12)
        if roll <= foot.TURN_OVER:
            np.testing.assert_array_equal(stays.toe[1], 0)
            np.testing.assert_allclose(frame.to_world(stays.ball, p.ball), p.ball, atol=1e-12)
    edge = p.outer if tilt > 0 else p.inner
    np.testing.assert_allclose(frame.to_world(foot.stack(p, tilt=tilt).ball, edge), edge, atol=1e-12)
    for name, point in (("swivel", p.ball), ("heel_swivel", p.heel), ("toe_swivel", p.toe)):
        np.testing.assert_allclose(frame.to_world(foot.stack(p, **{name: swivel}).ball, point), point, atol=1e-12)


@given(channels, numbers(-0.5, 0.5))
def test_swivel_is_outermost_it_turns_the_foot_whatever_it_stands_on(c, more):
    """One more swivel about the ball's upright, after all else, is the same as one more in the channel."""
    before, after = foot.stack(LEFT, **c), foot.stack(LEFT, **{**c, "swivel": c["swivel"] + more})
    turn = rk.rotation.from_axis_angle([0, 1, 0], more)
    np.testing.assert_allclose(
        foot.carried(SOLE, LEFT, after), LEFT.ball + rk.rotation.rotate(turn, foot.carried(SOLE, LEFT, before) - LEFT.ball), atol=1e-12
    )


def test_the_signs_of_the_channels():
    """For both feet: roll above zero lifts the heel, below it the toes; tilt lifts the inner edge; swivel brings the toes outward."""
    for side, out in (("left", 1), ("right", -1)):
        p = foot.pivots(SOLE * [out, 1, 1], BALL, side)
        for values, lifted in (({"roll": 0.2}, p.heel), ({"roll": -0.2}, p.toe), ({"tilt": 0.2}, p.inner)):
            assert frame.to_world(foot.stack(p, **values).ball, lifted)[1] > 0.01
        for name in ("swivel", "heel_swivel", "toe_swivel"):
            toes = np.subtract(*(frame.to_world(foot.stack(p, **{name: 0.2}).toe, point) for point in (p.toe, p.heel)))
            assert out * (toes - (p.toe - p.heel))[0] > 0.02


@given(channels)
def test_the_other_foot_does_the_mirror_image(c):
    right = foot.pivots(SOLE * [-1, 1, 1], BALL * [-1, 1, 1], "right")
    here, there = (foot.carried(s, p, foot.stack(p, **c)) for s, p in ((SOLE, LEFT), (SOLE * [-1, 1, 1], right)))
    np.testing.assert_allclose(here, there * [-1, 1, 1], atol=1e-12)


@given(channels, turns(), vectors())
def test_a_foot_elsewhere_rolls_the_same(c, turn, place):
    ankle, ball = (NO_TURN, [0, 0.08, 0]), (NO_TURN, BALL)
    at_home, moved = (foot.joints(own, ankle, ball, foot.stack(LEFT, **c)) for own in ((NO_TURN, np.zeros(3)), (turn, place)))
    for here, there in zip(at_home, moved):
        np.testing.assert_allclose(there[1], frame.to_world((turn, place), here[1]), atol=1e-12)
        assert rk.rotation.angle(there[0], rk.rotation.multiply(turn, here[0])) < 1e-7


def test_a_batch_of_poses_equals_them_one_by_one():
    rng = np.random.default_rng(3)
    c = {name: rng.uniform(-1.2, 1.2, (5, 8)) for name in CHANNELS}
    own, joint = (NO_TURN, [0.1, 0, 0]), (NO_TURN, [0, 0.08, 0])
    many, sole = foot.joints(own, joint, (NO_TURN, BALL), foot.stack(LEFT, **c)), foot.carried(SOLE, LEFT, foot.stack(LEFT, **c))
    assert many[0][0].shape == (5, 8, 4) and sole.shape == (5, 8, 6, 3)
    for row in np.ndindex(5, 8):
        stack = foot.stack(LEFT, **{name: value[row] for name, value in c.items()})
        one = foot.joints(own, joint, (NO_TURN, BALL), stack)
        for a, b in zip(one, many):
            np.testing.assert_allclose(a[0], b[0][row], atol=1e-12)
            np.testing.assert_allclose(a[1], b[1][row], atol=1e-12)
        np.testing.assert_allclose(foot.carried(SOLE, LEFT, stack), sole[row], atol=1e-12)


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_rigs_foot_link_puts_the_ankle_where_the_stack_does(side):
    """The link has a form of its own for speed; this is the readable one."""
    robot, rig = rk.tally(), rk.tally_rig()
    control, rest = f"{side}_foot_control", rig.skeleton.rest_world
    home = rig.control(control).rotation, rig.control(control).position
    marks = [robot.landmarks[f"{side}_{name}"] for name in ("heel", "ball", "sole_toe", "sole_inner", "sole_outer")]
    p = foot.Pivots(*frame.to_local(home, marks), outward={"left": 1.0, "right": -1.0}[side])
    rng = np.random.default_rng(11)
    c = dict(roll=rng.uniform(-0.7, 1.5, 40), tilt=rng.uniform(-0.5, 0.5, 40), swivel=rng.uniform(-1.5, 1.5, 40))
    pose = rig.pose({f"{control}.{name}": value for name, value in c.items()})
    ankle, ball = (rig.skeleton.index(f"{side}_{name}_joint") for name in ("ankle", "ball"))
    rests = [frame.compose(frame.invert(home), (rest.rotations[i], rest.positions[i])) for i in (ankle, ball)]
    turn_over = next(link.turn_over for link in rig.links if getattr(link, "control", None) == control)
    expected = foot.joints(home, *rests, foot.stack(p, **c, turn_over=turn_over))
    found = pose.frame(f"{side}_ankle_target")
    np.testing.assert_allclose(found[1], expected[0][1], atol=1e-12)
    assert rk.rotation.angle(found[0], expected[0][0]).max() < 1e-7


# ---- errors ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: foot.pivots(SOLE, BALL, "outer"),
            "side is 'outer'; expected 'left' or 'right': it tells the outer edge from the inner one",
        ),
        (
            lambda: foot.pivots(SOLE[:2], BALL, "left"),
            r"outline has shape \(2, 3\); expected \(N, 3\) with N of 3 or more: the points around a sole",
        ),
        (lambda: foot.pivots(SOLE[None], BALL, "left"), r"outline has shape \(1, 6, 3\); expected \(N, 3\)"),
        (
            lambda: foot.pivots(SOLE * [0, 1, 1], BALL, "left"),
            "outline is 0 m wide and 0.21 m long; expected a sole along z: give it in the foot's own frame",
        ),
        (
            lambda: foot.pivots(SOLE, BALL + [0, 0, 1], "left"),
            "ball is .*; expected one point with z from -0.07 to 0.14 m: the ball joint, between heel and toe",
        ),
        (lambda: foot.pivots(SOLE, [BALL, BALL], "left"), "ball is .*; expected one point with z from"),
        (lambda: foot.pivots(SOLE, BALL - [0, 0.03, 0], "left"), "ball is 0.01 m under the sole; expected it on or above"),
        (lambda: foot.pivots(SOLE * np.nan, BALL, "left"), r"outline at row \(0,\) is .*nan.*; expected finite numbers"),
        (lambda: foot.shares(1, -0.1), "turn_over is -0.1; expected radians, 0 or more: 30 degrees are 0.5236"),
        (lambda: foot.shares(1, [0.1, -1]), r"turn_over at row \(1,\) is -1; expected radians"),
        (lambda: foot.stack(LEFT, roll=[1, 2], tilt=[1, 2, 3]), r"batch shapes do not fit together: roll \(2,\), tilt \(3,\)"),
        (lambda: foot.stack(LEFT, roll=np.inf), "roll is inf; expected finite numbers"),
        (
            lambda: foot.own_frame([0, 1, 0], [0, 0, 0]),
            "ball stands straight above or below the ankle; expected it ahead: toes need a direction",
        ),
        (lambda: foot.own_frame([[0, 1, 0]], [[0, 1, 0]]), r"ball at row \(0,\) stands straight above or below the ankle"),
        (lambda: foot.own_frame([0, 1, 0], [0, 0, 1], up=[0, 0, 0]), "up has length 0; expected a direction"),
        (
            lambda: foot.carried(BALL, LEFT, foot.stack(LEFT)),
            r"points has shape \(3,\); expected \(N, 3\), one or more: points of one foot at rest",
        ),
        (lambda: foot.sole(np.zeros((0, 3))), r"points has shape \(0, 3\); expected \(N, 3\), one or more"),
    ],
)
def test_bad_input_is_told_in_words(call, text):
    with pytest.raises(ValueError, match=text):
        call()
