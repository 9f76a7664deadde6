"""Laws that go across the modules: what a mirror, a rigid motion, a change of size and a batch must leave alone.

The laws of one idea stand with its module; here are those that every idea has to keep.
"""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import rigkit as rk
from rigkit import bend, binding, chain, foot, frame, gaze, limb, mesh, mirror, placement, rotation, symmetry
from rigkit.keys import Keys, Motion
from tests.strategies import apart, directions, numbers, planes, random_turns, skeletons, turns, vectors

METHODS = [chain.fabrik, chain.ccd, chain.damped_least_squares]
seeds = st.integers(0, 2**32 - 1)


def frames():
    return st.tuples(turns(), vectors())


def limb_of(seed):
    """Rest points, target and pole of a bent limb whose target is within reach and off the line to the pole."""
    rng = np.random.default_rng(seed)
    points = np.cumsum(rng.normal(size=(3, 3)), axis=0)
    target, pole = points[0] + rng.normal(size=(2, 3))
    return points, target, pole


def well_posed(points, target, pole):
    """Whether the elbow's side is far from undefined."""
    distance, _ = limb.flip_line(points[0], target, pole)
    return distance > 1e-2 and np.linalg.norm(np.cross(points[1] - points[0], points[2] - points[0])) > 1e-2


def bent_chain(seed, links=4):
    """(points, target) of a chain that is not straight, the target within its reach."""
    rng = np.random.default_rng(seed)
    points = np.cumsum(rng.normal(size=(links + 1, 3)), axis=0)
    lengths = np.linalg.norm(np.diff(points, axis=0), axis=1)
    way = rng.normal(size=3)
    return points, points[0] + way / np.linalg.norm(way) * lengths.sum() * rng.uniform(0.3, 0.9)


# ---------------------------------------------------------------- a mirror


@given(planes(), seeds)
def test_the_limb_of_the_mirror_image_is_the_image_of_the_limb(plane, seed):
    points, target, pole = limb_of(seed)
    assume(well_posed(points, target, pole))
    here, there = limb.solve(*points, target, pole), limb.solve(*mirror.points([*points, target, pole], plane))
    np.testing.assert_allclose(there.mid, mirror.points(here.mid, plane), atol=1e-6)
    np.testing.assert_allclose(there.end, mirror.points(here.end, plane), atol=1e-9)


@pytest.mark.parametrize("method", METHODS)
@given(planes(), seeds)
def test_the_chain_of_the_mirror_image_is_the_image_of_the_chain(method, plane, seed):
    points, target = bent_chain(seed)
    here, there = method(points, target, steps=5), method(mirror.points(points, plane), mirror.points(target, plane), steps=5)
    np.testing.assert_allclose(there.points, mirror.points(here.points, plane), atol=1e-6)


@given(planes(), vectors(shape=(3, 3)))
def test_a_mirror_keeps_a_bend_and_turns_its_axis_round(plane, points):
    assume(np.linalg.norm(np.cross(points[1] - points[0], points[2] - points[1])) > 1e-3)
    image = mirror.points(points, plane)
    assert bend.angle(*image) == pytest.approx(bend.angle(*points), abs=1e-9)
    np.testing.assert_allclose(bend.normal(*image), -mirror.directions(bend.normal(*points), plane), atol=1e-6)


@given(planes(), vectors(), vectors(), directions())
def test_the_mirrored_eye_is_the_parallel_frame(plane, position, target, up):
    ahead = rotation.perpendicular(up)
    assume(np.linalg.norm(np.cross(target - position, up)) > 1e-3)
    here = gaze.look_at(position, target, up, ahead)
    there = gaze.look_at(*mirror.points([position, target], plane), *mirror.directions([up, ahead], plane))
    assert apart(there, mirror.parallel(here, plane)) < 1e-6


@given(planes(), st.lists(numbers(0.3, 1), min_size=5, max_size=12), frames())
def test_centre_area_and_length_of_a_mirrored_loop(plane, radii, stand):
    turn = 2 * np.pi * np.arange(len(radii)) / len(radii)
    loop = frame.to_world(stand, np.array(radii)[:, None] * np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1))
    image = mirror.points(loop, plane)
    np.testing.assert_allclose(placement.area_centre(image), mirror.points(placement.area_centre(loop), plane), atol=1e-9)
    np.testing.assert_allclose(placement.normal(image), -mirror.directions(placement.normal(loop), plane), atol=1e-9)
    assert placement.loop_area(image) == pytest.approx(placement.loop_area(loop), rel=1e-9)
    assert placement.loop_length(image) == pytest.approx(placement.loop_length(loop), rel=1e-9)


@pytest.mark.parametrize("way", [binding.linear_blend, binding.dual_quaternion])
@given(planes(), seeds)
def test_a_mirrored_skin_is_the_image_of_the_skin(way, plane, seed):
    rng = np.random.default_rng(seed)
    points, joints, weights = rng.normal(size=(6, 3)), rng.integers(0, 3, (6, 2)), rng.dirichlet([1, 1], 6)
    near = rotation.multiply(rotation.from_vector(rng.uniform(-0.8, 0.8, (3, 3))), random_turns(rng))
    moves = rng.normal(size=(3, 3))
    mirrored = np.concatenate([-mirror.directions(near[:, :3], plane), near[:, 3:]], axis=1)  # M R M: the turn about the image, backwards
    origin = mirror.points(np.zeros(3), plane)
    there = mirror.points(moves, plane) - rotation.rotate(mirrored, origin)
    image = way(mirror.points(points, plane), joints, weights, mirrored, there)
    np.testing.assert_allclose(image, mirror.points(way(points, joints, weights, near, moves), plane), atol=1e-8)


@given(planes(), planes(), vectors())
def test_two_mirrors_are_a_turn_by_twice_the_angle_between_them(one, other, p):
    q = mirror.matched(mirror.matched(rotation.IDENTITY, one), other)
    a, b = one.normal, other.normal
    between = np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)
    assert rotation.angle(rotation.IDENTITY, q) == pytest.approx(2 * min(between, np.pi - between), abs=1e-7)
    moved = mirror.points(mirror.points(p, one), other) - mirror.points(mirror.points(np.zeros(3), one), other)
    np.testing.assert_allclose(moved, rotation.rotate(q, p), atol=1e-9)


@given(planes(), seeds)
def test_the_plane_of_a_mirrored_set_is_the_same_plane(plane, seed):
    rng = np.random.default_rng(seed)
    half = rng.normal(size=(20, 3)) * [1, 0.5, 0.3]
    cloud = np.vstack([half, mirror.points(half, plane)])
    pairs = symmetry.plane_of_pairs(half, mirror.points(half, plane), plane.normal)
    back = symmetry.plane_of_pairs(mirror.points(half, plane), half, plane.normal)
    np.testing.assert_allclose(mirror.points(cloud, pairs), mirror.points(cloud, back), atol=1e-6)


# ---------------------------------------------------------------- a rigid motion, a change of size


@pytest.mark.parametrize("method", METHODS)
@given(frames(), seeds, numbers(0.1, 10))
def test_a_chain_moved_and_scaled_is_solved_alike(method, motion, seed, size):
    points, target = bent_chain(seed)

    def moved(p):
        return frame.to_world(motion, size * np.asarray(p))

    here = method(points, target, steps=5, tolerance=1e-9)
    there = method(moved(points), moved(target), steps=5, tolerance=1e-9 * size)
    np.testing.assert_allclose(there.points, moved(here.points), atol=1e-6 * size)


@pytest.mark.parametrize("method", METHODS)
@given(seeds, st.integers(1, 8))
def test_a_chain_keeps_its_root_and_its_lengths(method, seed, links):
    points, target = bent_chain(seed, links)
    solved = method(points, target, steps=4).points
    np.testing.assert_allclose(np.linalg.norm(np.diff(solved, axis=0), axis=1), np.linalg.norm(np.diff(points, axis=0), axis=1), rtol=1e-9)
    np.testing.assert_array_equal(solved[0], points[0])


@given(frames(), seeds, numbers(0.1, 10))
def test_a_flattened_chain_moved_and_scaled_is_flattened_alike(motion, seed, size):
    points = np.cumsum(np.random.default_rng(seed).normal(size=(5, 3)) * [1, 0.5, 0.05], axis=0)

    def moved(p):
        return frame.to_world(motion, size * p)

    np.testing.assert_allclose(bend.flatten(moved(points)), moved(bend.flatten(points)), atol=1e-7 * size)
    np.testing.assert_allclose(bend.off_plane(moved(points)), size * bend.off_plane(points), atol=1e-7 * size)


@given(frames(), numbers(0.1, 10), seeds)
def test_a_section_moved_and_scaled_is_cut_alike(motion, size, seed):
    rng = np.random.default_rng(seed)
    tube = mesh.tube(9, [0.0, 0.2, 0.5, 0.7], radius=rng.uniform(0.1, 0.3, 4))
    point, normal = np.array([0.0, rng.uniform(0.1, 0.6), 0.0]), np.array([0.2, 1.0, -0.1])
    there = tube.moved(frame.to_world(motion, size * tube.vertices))
    here = mesh.section(tube, point, normal)
    found = mesh.section(there, frame.to_world(motion, size * point), rotation.rotate(motion[0], normal))
    assert len(here) == len(found) == 1
    assert placement.loop_area(found[0]) == pytest.approx(size**2 * placement.loop_area(here[0]), rel=1e-6)
    np.testing.assert_allclose(
        placement.area_centre(found[0]), frame.to_world(motion, size * placement.area_centre(here[0])), atol=1e-6 * size
    )
    assert [loop.tolist() for loop in mesh.loops(there)] == [loop.tolist() for loop in mesh.loops(tube)]


@given(seeds, numbers(0.1, 10))
def test_a_larger_foot_has_its_pivots_in_proportion(seed, size):
    rng = np.random.default_rng(seed)
    outline = np.insert(rng.uniform(-1, 1, (12, 2)) * [0.04, 0.1], 1, 0.0, axis=1)
    ball = [0.0, 0.02, np.mean([outline[:, 2].min(), outline[:, 2].max()])]
    here, there = foot.pivots(outline, ball, "left"), foot.pivots(size * outline, size * np.array(ball), "left")
    for name in ("heel", "ball", "toe", "inner", "outer"):
        np.testing.assert_allclose(getattr(there, name), size * getattr(here, name), atol=1e-12 * size)


# ---------------------------------------------------------------- forward and inverse


@given(seeds)
def test_forward_kinematics_of_the_solved_turns_stands_on_the_solution(seed):
    points, target, pole = limb_of(seed)
    assume(well_posed(points, target, pole))
    solved = limb.solve(*points, target, pole)
    rest = rk.Skeleton(["root", "mid", "end"], [-1, 0, 1], np.diff(points, axis=0, prepend=np.zeros((1, 3))))
    upper, lower = limb.rotations(*points, solved, pole)
    local = np.array([upper, rotation.multiply(rotation.invert(upper), lower), rotation.IDENTITY])
    np.testing.assert_allclose(rest.forward(local).positions, [points[0], solved.mid, solved.end], atol=1e-8)


@given(seeds)
def test_a_limb_stays_in_the_plane_of_root_target_and_pole(seed):
    points, target, pole = limb_of(seed)
    assume(well_posed(points, target, pole))
    solved = limb.solve(*points, target, pole)
    normal = np.cross(target - points[0], pole - points[0])
    np.testing.assert_allclose(np.array([solved.mid, solved.end]) @ normal, points[0] @ normal, atol=1e-8 * np.linalg.norm(normal))


@given(skeletons(), seeds)
def test_a_joint_hung_elsewhere_and_back_is_as_before(skeleton, seed):
    rng = np.random.default_rng(seed)
    name = skeleton.names[int(rng.integers(len(skeleton)))]
    free = [n for n in skeleton.names if skeleton.index(n) not in skeleton.below(name) and n != name]
    assume(free)
    home = skeleton.parent(name)
    back = skeleton.reparent(name, free[int(rng.integers(len(free)))]).reparent(name, home)
    order = [back.index(n) for n in skeleton.names]
    np.testing.assert_allclose(back.rest_translations[order], skeleton.rest_translations, atol=1e-12)
    assert apart(back.rest_rotations[order], skeleton.rest_rotations) < 1e-7


# ---------------------------------------------------------------- turns


@given(turns(), turns(), numbers(0, 1))
def test_slerp_there_is_slerp_back(p, q, t):
    assume(np.pi - rotation.angle(p, q) > 1e-6)
    assert apart(rotation.slerp(p, q, t), rotation.slerp(q, p, 1 - t)) < 1e-7


@given(turns(), directions(), numbers(-3, 3))
def test_a_twist_put_in_front_changes_the_twist_alone(q, axis, angle):
    swing, twist = rotation.swing_twist(q, axis)
    assume(abs(q[3]) + abs(q[:3] @ axis) > 1e-3)
    more = rotation.from_axis_angle(axis, angle)
    again, twisted = rotation.swing_twist(rotation.multiply(q, more), axis)
    assert apart(again, swing) < 1e-7
    assert apart(twisted, rotation.multiply(twist, more)) < 1e-7


@given(directions(), directions())
def test_the_shortest_turn_back_is_the_inverse(a, b):
    assume(np.linalg.norm(a + b) > 1e-3)
    assert apart(rotation.between(b, a), rotation.invert(rotation.between(a, b))) < 1e-7


@given(directions(), numbers(-3, 3), numbers(-3, 3))
def test_turns_about_one_axis_add_up(axis, a, b):
    both = rotation.multiply(rotation.from_vector(a * axis), rotation.from_vector(b * axis))
    assert apart(both, rotation.from_vector((a + b) * axis)) < 1e-7


@given(seeds, st.integers(2, 6), st.randoms(use_true_random=False))
def test_a_blend_does_not_see_order_nor_sign(seed, count, random):
    rng = np.random.default_rng(seed)
    q, weights = rotation.multiply(rotation.from_vector(rng.uniform(-0.5, 0.5, (count, 3))), random_turns(rng)), rng.uniform(0.1, 1, count)
    order = random.sample(range(count), count)
    signs = rng.choice([-1.0, 1.0], count)[:, None]
    assert apart(rotation.blend(q, weights), rotation.blend((signs * q)[order], 3 * weights[order])) < 1e-7


# ---------------------------------------------------------------- weights, meshes, keys


@given(seeds)
def test_the_strongest_of_the_strongest_are_the_same(seed):
    weights = np.random.default_rng(seed).dirichlet(np.ones(7), 5)
    joints, kept = binding.strongest(weights)
    full = np.zeros((5, 7))
    np.put_along_axis(full, joints, kept, axis=1)
    again = binding.strongest(full)
    np.testing.assert_array_equal(again[0], joints)
    np.testing.assert_allclose(again[1], kept, atol=1e-15)


@given(seeds)
def test_weights_mirrored_twice_are_the_start(seed):
    rng = np.random.default_rng(seed)
    weights = rng.dirichlet(np.ones(4), 6)
    partner, counterpart = np.array([1, 0, 3, 2, 5, 4]), np.array([0, 2, 1, 3])
    np.testing.assert_array_equal(symmetry.weights(symmetry.weights(weights, partner, counterpart), partner, counterpart), weights)


@given(seeds)
def test_welding_twice_is_welding_once_and_turning_over_twice_is_nothing(seed):
    rng = np.random.default_rng(seed)
    tube = mesh.tube(5, [0.0, 0.1, 0.2])
    torn = mesh.Mesh(tube.vertices[tube.triangles].reshape(-1, 3) + rng.normal(size=3), np.arange(3 * len(tube.triangles)).reshape(-1, 3))
    once = mesh.welded(torn)
    np.testing.assert_array_equal(mesh.welded(once).faces, once.faces)
    np.testing.assert_array_equal(tube.flipped().flipped().faces, tube.faces)


@given(seeds, st.sampled_from(["step", "linear", "smooth"]), numbers(-5, 5), st.integers(-3, 3))
def test_a_motion_is_the_same_a_period_later_but_for_its_advance(seed, kind, time, rounds):
    rng = np.random.default_rng(seed)
    keys = Keys([0.0, 0.4, 1.1, 2.0], rng.normal(size=4), kind)
    assume(min(abs((time % 2.0) - np.array([0.0, 0.4, 1.1, 2.0]))) > 1e-6)  # a step jumps there
    motion = Motion("walk", {"body.move_z": keys}, period=2.0, advance={"body.move_z": 0.7})
    here, later = motion.sample(time)["body.move_z"], motion.sample(time + 2.0 * rounds)["body.move_z"]
    assert later == pytest.approx(here + 0.7 * rounds, abs=1e-7)


@given(seeds, st.sampled_from(["linear", "smooth"]))
def test_keys_pass_through_their_values(seed, kind):
    rng = np.random.default_rng(seed)
    times = np.cumsum(rng.uniform(0.1, 1, 5))
    for values in (rng.normal(size=5), rng.normal(size=(5, 3))):
        np.testing.assert_allclose(Keys(times, values, kind).at(times), values, atol=1e-12)
    q = random_turns(rng, 5)
    assert apart(Keys(times, q, kind).at(times), q) < 1e-7


# ---------------------------------------------------------------- batches

CALLS = {
    "multiply": (rotation.multiply, [4, 4]),
    "rotate": (rotation.rotate, [4, 3]),
    "slerp": (rotation.slerp, [4, 4, 0]),
    "between": (rotation.between, [3, 3]),
    "swing_twist": (rotation.swing_twist, [4, 3]),
    "to_matrix": (rotation.to_matrix, [4]),
    "to_euler": (lambda q: rotation.to_euler("ZXY", q), [4]),
    "compose": (lambda a, b, c, d: frame.compose((a, b), (c, d)), [4, 3, 4, 3]),
    "from_bone": (frame.from_bone, [3, 3]),
    "matched": (lambda q: mirror.matched(q, mirror.Plane()), [4]),
    "bend": (bend.angle, [3, 3, 3]),
    "bend normal": (bend.normal, [3, 3, 3]),
    "limb": (lambda *p: limb.solve(*p).mid, [3, 3, 3, 3, 3]),
    "pole point": (lambda a, b, c: limb.pole_point(a, b, c, 0.3), [3, 3, 3]),
    "swivel": (limb.swivel_angle, [3, 3, 3, 3]),
    "look at": (gaze.look_at, [3, 3]),
    "in cone": (lambda v, axis: gaze.in_cone(v, axis, 0.5), [3, 3]),
    "own frame": (foot.own_frame, [3, 3]),
}


@pytest.mark.parametrize("name", CALLS)
@given(seed=seeds, shape=st.lists(st.integers(1, 3), max_size=3))
def test_a_batch_of_any_shape_equals_a_loop(name, seed, shape):
    call, widths = CALLS[name]
    rng = np.random.default_rng(seed)
    given_ = [random_turns(rng, *shape) if w == 4 else rng.normal(size=(*shape, 3)) if w == 3 else rng.uniform(0, 1, shape) for w in widths]
    whole = call(*given_)
    whole = whole if isinstance(whole, tuple) else (whole,)
    for index in np.ndindex(*shape):
        one = call(*(array[index] for array in given_))
        for a, b in zip(whole, one if isinstance(one, tuple) else (one,)):
            np.testing.assert_allclose(np.asarray(a)[index], b, atol=1e-9)
