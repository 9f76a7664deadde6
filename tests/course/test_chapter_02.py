"""Chapter 02: right answers of any kind earn full marks, wrong turns cost their own claims, and the facts told are facts."""

import ast
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial.transform import RigidTransform, Rotation

from rigkit import chain, limb
from rigkit.course import context as contexts
from rigkit.course.chapters import chapter_02_offsets as offsets_02
from rigkit.course.chapters.chapter_02_figure import (
    JOINTS,
    LANDMARKS,
    PARENTS,
    apart,
    hinges,
    not_a_turn,
    places,
    seen_from_parents,
    standing,
    turn,
)
from rigkit.course.chapters.chapter_02_forward import (
    forward,
    is_chain,
    is_rooted,
    is_tree,
)
from rigkit.course.chapters.chapter_02_parents import (
    has_cycle,
    is_sound,
    members,
    parents_first,
)
from rigkit.course.chapters.chapter_02_reach import distance
from rigkit.course.chapters.chapter_02_rehang import rehang
from rigkit.course.collect import collect
from rigkit.course.judge import judge, tried_text
from rigkit.course.panel import panel
from rigkit.robot import tally
from rigkit.rotation import from_matrix, to_matrix
from rigkit.skeleton import Skeleton
from tests.course.boxes import boxes, promised
from tests.course.tried import Tried, likely, missed

TRIED = Tried("02")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, judged, cases_of, cells = TRIED.context, TRIED.answered, TRIED.cases_of, TRIED.cells


# ---- the text ----------------------------------------------------------------------------------------------------


def test_the_text_promises_the_points_that_are_given():
    assert boxes(CHAPTER) == promised(CHAPTER)
    assert sum(one.points for one in CHAPTER.checkpoints) == 27  # the title card says so


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    assert len(TRIED.worked_functions()) == 7


def test_every_scene_sets_its_own_view():
    scenes = [ast.unparse(tree) for tree in cells() if "viewer.clear()" in ast.unparse(tree)]
    assert len(scenes) == 6
    for scene in scenes:
        assert all(f"viewer.{call}(" in scene for call in ("look", "focus", "see_through", "show", "caption")), scene


def one_place_only(parents, turns, offsets):
    return np.zeros((10, 3))


def the_two_swapped(parents, turns, offsets):
    return np.zeros((10, 3)), np.zeros((10, 3, 3))


def stops(parents, turns, offsets):
    raise NameError("name 'frames' is not defined")


def as_lists(parents, turns, offsets):
    return np.zeros((10, 3, 3)).tolist(), np.zeros((10, 3)).tolist()


@pytest.mark.parametrize(
    "forward, offsets, told",
    [
        (as_lists, np.zeros((10, 3)), ""),
        (one_place_only, np.zeros((10, 3)), "02.2"),
        (the_two_swapped, np.zeros((10, 3)), "02.2"),
        (stops, np.zeros((10, 3)), "02.2"),
        (lambda *inputs: None, np.zeros((10, 3)), "02.2"),
        (as_lists, ..., "02.1"),
        (as_lists, np.zeros((9, 3)), "02.1"),
        (as_lists, [[0], [0, 1]], "02.1"),
    ],
)
def test_scenes_wait_for_answers_that_can_be_used(forward, offsets, told, capsys):
    """An answer of another form is left to its panel: a scene that stopped with an error would stop Run All Cells."""
    cell = next(tree for tree in cells("learner") if any(getattr(one, "name", "") == "there" for one in tree.body))
    functions = ast.Module([one for one in cell.body if isinstance(one, ast.FunctionDef)], [])
    names = {"np": np, "parents": [0] * 10, "offsets": offsets, "rest_turns": np.zeros((10, 3, 3)), "forward": forward}
    exec(compile(functions, "cell", "exec"), names)  # noqa: S102  our own cell
    assert names["there"]() == (not told)
    assert told in capsys.readouterr().out


@pytest.mark.parametrize("name", CHECKPOINT)
def test_a_panel_is_never_cut(name):
    checkpoint = CHECKPOINT[name]
    for variant, seed in ((0, None), (41, b"one")):
        for mistake in checkpoint.mistakes:
            result = judged(name, mistake.answer if checkpoint.kind == "function" else mistake.answer(context(variant)), variant, seed)
            told = panel(result, can_show=True).text.replace("6, ..., -1]", "")  # a long list of parents is told by its ends
            assert "..." not in told, f"{mistake.name}\n{told}"


@pytest.mark.parametrize("name", [name for name, one in CHECKPOINT.items() if one.kind == "function"])
def test_what_was_tried_fits_its_line_whatever_the_seed(name):
    for seed in range(20):
        for case in CHECKPOINT[name].cases(np.random.default_rng(seed), context(seed % 5)):
            assert len(tried_text(case)) <= 80, tried_text(case)


# ---- what is handed out --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("variant", range(0, 100, 9))
def test_frames_are_turns_away_from_the_package_s_own(variant):
    """No offset can be read off the package's skeleton, and none that is seen from a turned parent is the world's by chance."""
    known = context(variant)
    skeleton = known.robot.skeleton
    for name, frame in zip(JOINTS[1:], known.given["frames"][1:]):
        assert not_a_turn(frame) < 1e-12
        assert np.degrees(apart(frame, to_matrix(skeleton.rest_world.rotations[skeleton.index(name)]))) > 30
    offsets = offsets_02.right(known)[1]
    ways = np.array([places(known.robot)[j] - places(known.robot)[p] for j, p in enumerate(PARENTS) if p > 0])
    below = offsets[list(offsets_02.BELOW)]
    assert np.linalg.norm(below - ways, axis=1).max() > 0.05
    assert (np.abs(below).max(axis=1) < 0.9 * np.linalg.norm(below, axis=1)).all()  # nobody sees a bone along an axis
    assert np.array_equal(known.given["frames"][0], np.eye(3))


def test_parents_of_the_ten_are_those_of_the_package():
    skeleton = tally(0).skeleton
    assert [skeleton.parent(name) for name in JOINTS] == [None if p < 0 else JOINTS[p] for p in PARENTS]


@pytest.mark.parametrize("variant", (0, 41))
def test_hinges_in_the_joints_frames_bend_tally_as_the_package_does(variant):
    """The ten joints on the course's frames go where the package's skeleton takes them, for the same bends about the same hinges."""
    known = context(variant)
    skeleton, turns = known.robot.skeleton, seen_from_parents(PARENTS, known.given["frames"], places(known.robot))
    bends = np.array([0, -40, 60, 20, 10, 30, 70, -10, 15, 0.0])
    ours = standing(PARENTS, [rest @ turn(hinge, bend) for rest, hinge, bend in zip(turns[0], known.given["hinges"], bends)], turns[1])[1]
    local = skeleton.rest_rotations.copy()
    for name, bend in zip(JOINTS, bends):
        row = skeleton.index(name)
        local[row] = from_matrix(to_matrix(local[row]) @ turn([0, 0, 1], bend))
    theirs = skeleton.forward(local).positions[[skeleton.index(name) for name in JOINTS]]
    assert np.allclose(ours, theirs, atol=1e-9)
    assert np.allclose(hinges(known.robot, known.given["frames"]), known.given["hinges"])


@pytest.mark.parametrize("variant", range(0, 100, 9))
def test_a_posed_limb_keeps_its_bones_and_is_far_from_straight(variant):
    known = context(variant)
    for name, marks in (("posed_arm", ("shoulder", "elbow", "wrist")), ("posed_leg", ("hip", "knee", "ankle"))):
        rest = np.array([known.robot.landmarks[f"left_{mark}"] for mark in marks])
        posed = known.given[name]
        assert np.allclose(np.linalg.norm(np.diff(posed, axis=0), axis=1), np.linalg.norm(np.diff(rest, axis=0), axis=1))
        assert np.linalg.norm(posed[2] - posed[0]) < 0.95 * np.linalg.norm(np.diff(posed, axis=0), axis=1).sum()


# ---- 02.1 ----------------------------------------------------------------------------------------------------------


@pytest.mark.source("SciPy")
@pytest.mark.parametrize("variant", (0, 7, 41))
def test_offsets_and_turns_of_scipy_earn_full_marks(variant):
    # SciPy RigidTransform: parent.inv() * own
    known = context(variant)
    world = [
        RigidTransform.from_components(place, Rotation.from_matrix(frame))
        for place, frame in zip(places(known.robot), known.given["frames"])
    ]
    seen = [own if parent < 0 else world[parent].inv() * own for own, parent in zip(world, PARENTS)]
    answer = {"offsets": np.array([one.translation for one in seen]), "rest_turns": np.array([one.rotation.as_matrix() for one in seen])}
    assert judged("02.1", answer, variant).earned == 6


def placed_by_hand(variant, seed, off=1e-4):
    """The context as a learner has it whose joints are up to 0.1 mm off: the chapter's checks accept those in chapter 01."""
    known = context(variant)
    aside = np.random.default_rng(seed).normal(size=(9, 3))
    aside *= off / np.linalg.norm(aside, axis=1, keepdims=True)
    marks = {**known.robot.landmarks, **{name: known.robot.landmarks[name] + d for name, d in zip(LANDMARKS, aside)}}
    return replace(known, robot=replace(known.robot, landmarks=marks))


@pytest.mark.parametrize("seed", range(8))
def test_a_learner_s_own_joints_earn_full_marks(seed):
    answer = offsets_02.rest(placed_by_hand(41, seed))
    assert judged("02.1", answer, 41).earned == 6


@pytest.mark.parametrize("mistake", CHECKPOINT["02.1"].mistakes, ids=lambda one: one.name)
def test_a_mistake_made_with_one_s_own_joints_is_still_told(mistake):
    """The result is then not the planned one to nine digits; the measurement proves the cause."""
    if mistake not in offsets_02.ROWS or mistake.name == "millimetres":
        return
    result = judged("02.1", mistake.answer(placed_by_hand(41, 3)), 41)
    assert set(mistake.misses) <= missed(result)
    assert mistake.diagnosis in likely(result), panel(result).text


# ---- 02.2 ----------------------------------------------------------------------------------------------------------


def by_package(parents, turns, offsets):
    skeleton = Skeleton([f"joint_{i}" for i in range(len(parents))], parents, offsets, from_matrix(turns))
    return to_matrix(skeleton.rest_world.rotations), skeleton.rest_world.positions


def by_recursion(parents, turns, offsets):
    """Another right way: each joint asks its parent."""

    def world(joint):
        if joint < 0:
            return np.eye(3), np.zeros(3)
        frame, place = world(parents[joint])
        return frame @ turns[joint], place + frame @ offsets[joint]

    both = [world(joint) for joint in range(len(parents))]
    return [frame for frame, _ in both], [place for _, place in both]


def by_matrices(parents, turns, offsets):
    """Another right way: matrices (4, 4)."""
    local = np.tile(np.eye(4), (len(parents), 1, 1))
    local[:, :3, :3], local[:, :3, 3] = turns, offsets
    world = []
    for joint, parent in enumerate(parents):
        world.append(local[joint] if parent == -1 else world[parent] @ local[joint])
    world = np.array(world)
    return world[:, :3, :3], world[:, :3, 3]


def from_the_tip(parents, turns, offsets):
    """Another right way: each joint's place carried up to the root, one parent after the other."""
    frames, put = [], []
    for joint in range(len(parents)):
        frame, place, above = turns[joint], offsets[joint], parents[joint]
        while above >= 0:
            frame, place, above = turns[above] @ frame, offsets[above] + turns[above] @ place, parents[above]
        frames.append(frame)
        put.append(place)
    return np.array(frames), np.array(put)


@pytest.mark.parametrize("variant", (0, 41))
@pytest.mark.parametrize("seed", (None, b"one", b"two"))
@pytest.mark.parametrize("answer", (by_package, by_recursion, by_matrices, from_the_tip))
def test_every_right_forward_kinematics_earns_full_marks(answer, seed, variant):
    result = judged("02.2", answer, variant, seed)
    assert result.earned == 7, panel(result).text


@pytest.mark.source("Corke")
def test_two_bars_in_a_plane():
    # Corke, Robotics, Vision and Control 3e, chapter 7: lengths 1, 1, angles (30, 40) degrees
    frames, put = forward([-1, 0, 1], [turn([0, 0, 1], 30), turn([0, 0, 1], 40), np.eye(3)], [[0, 0, 0], [1, 0, 0], [1, 0, 0]])
    assert put[2] == pytest.approx([1.20804555, 1.43969262, 0], abs=1e-8)
    assert np.degrees(np.arctan2(frames[2][1, 0], frames[2][0, 0])) == pytest.approx(70)


def test_the_bars_of_the_text_are_in_the_check():
    case = cases_of("02.2")[0]
    assert forward(*case.inputs.values())[1][2] == pytest.approx([4, 3, 0])
    assert "np.array([4, 0, 0])" in TEXT and "bar_frame_1 @ np.array([3, 0, 0])" in TEXT


def test_the_cases_hold_every_kind_whatever_the_seed():
    for seed in range(10):
        found = cases_of("02.2", seed % 3, b"%d" % seed)
        assert len(found) == 14  # as the text says
        assert sum(map(is_chain, found)) >= 6 and sum(map(is_tree, found)) == 3 and sum(map(is_rooted, found)) == 4
        assert any(len(case.inputs["parents"]) == 1 for case in found)
        turned = [case for case in found if is_chain(case) and "posed" in case.about]
        assert all(np.degrees(apart(t, np.eye(3))) > 1 for case in turned for t in case.inputs["turns"][1:])


def test_an_answer_that_writes_into_its_input_is_told():
    def writes(parents, turns, offsets):
        for joint, parent in enumerate(parents):
            if parent >= 0:
                offsets[joint] = offsets[parent] + turns[parent] @ offsets[joint]
                turns[joint] = turns[parent] @ turns[joint]
        return turns, offsets

    claims = judged("02.2", writes).claims
    assert {claim.outcome for claim in claims} == {"changed its input"}


def test_the_two_swapped_are_told_as_a_wrong_shape():
    claims = judged("02.2", lambda *given: forward(*given)[::-1]).claims
    assert {claim.outcome for claim in claims} == {"wrong shape"} and "(any, 3, 3)" in claims[0].got


def test_the_package_s_own_is_closed():
    checkpoint = CHECKPOINT["02.2"]
    cases = contexts.cases(checkpoint, context(0))
    for answer in (by_package, lambda p, r, t: Skeleton("abcdefghijklmn"[: len(p)], p, t, from_matrix(r)).forward()):
        result = judge(checkpoint, collect(checkpoint, {"forward": answer}, cases), context(0), cases)
        assert result.earned == 0 and "closed book" in {claim.outcome for claim in result.claims}


# ---- 02.3 ----------------------------------------------------------------------------------------------------------


@pytest.mark.source("Euclid")
@pytest.mark.parametrize(
    "bones, inner, third", [((3, 4), 90, 5), ((5, 8), 60, 7), ((3, 5), 120, 7), ((1, 1), 90, np.sqrt(2)), ((1, 1), 120, np.sqrt(3))]
)
def test_the_distance_is_the_third_side(bones, inner, third):
    # Euclid, Elements II.12-13; the bend is the outer angle
    assert distance(*bones, 180 - inner) == pytest.approx(third)


@pytest.mark.parametrize("variant", (0, 7, 41, 99))
def test_the_package_s_reach_earns_full_marks(variant):
    known = context(variant).given
    answer = {}
    for part, bends in (("arm", known["elbow_range"]), ("leg", known["knee_range"])):
        bones = np.linalg.norm(np.diff(known[f"posed_{part}"], axis=0), axis=1)
        answer[f"{part}_inner"], answer[f"{part}_outer"] = chain.reach(bones, bends=np.radians([bends]))
    assert judged("02.3", answer, variant).earned == 4
    arm = np.linalg.norm(np.diff(known["posed_arm"], axis=0), axis=1)
    inner, outer = limb.reach(*arm, hinge_limit=np.radians(150))
    assert (inner, outer) == pytest.approx((answer["arm_inner"], answer["arm_outer"]))


@pytest.mark.source("AAOS")
def test_the_elbow_s_limit_is_a_person_s():
    # American Academy of Orthopaedic Surgeons norms (memory): elbow 150 degrees
    assert context(0).given["elbow_range"] == (0.0, 150.0)


@pytest.mark.parametrize("variant", range(0, 100, 9))
def test_the_four_distances_and_their_mistakes_differ_by_more_than_the_tolerance(variant):
    for mistake in CHECKPOINT["02.3"].mistakes:
        wrong, right = mistake.answer(context(variant)), CHECKPOINT["02.3"].worked(context(variant))
        assert all(abs(wrong[name] - right[name]) > 1e-4 for name in mistake.misses), mistake.name


# ---- 02.4 ----------------------------------------------------------------------------------------------------------


def by_depth(parents):
    """Another right way: sorted by how far from the root; a climb that does not end has gone round."""
    depths = []
    for joint in range(len(parents)):
        here, depth = joint, 0
        while here >= 0 and depth <= len(parents):
            here, depth = parents[here], depth + 1
        if here >= 0:
            return [], here
        depths.append(depth)
    return sorted(range(len(parents)), key=depths.__getitem__), -1


def by_climbing(parents):
    """Another right way: from each joint, climb to what is already down, then put down the climb the other way round."""
    order = []
    for joint in range(len(parents)):
        path = []
        while joint >= 0 and joint not in order:
            if joint in path:
                return order, joint
            path.append(joint)
            joint = parents[joint]
        order += path[::-1]
    return np.array(order), -1


@pytest.mark.parametrize("variant", (0, 41))
@pytest.mark.parametrize("seed", (None, b"one", b"two"))
@pytest.mark.parametrize("answer", (by_depth, by_climbing))
def test_any_order_and_any_member_earn_full_marks(answer, seed, variant):
    result = judged("02.4", answer, variant, seed)
    assert result.earned == 5, panel(result).text


@pytest.mark.source("SciPy")
@settings(max_examples=60, deadline=None)
@given(st.integers(1, 12).flatmap(lambda n: st.lists(st.integers(-1, n - 1), min_size=n, max_size=n)))
def test_members_of_cycles_are_those_of_scipy(parents):
    # SciPy csgraph: a joint is in a cycle if its strongly connected component has others, or it is its own parent
    arrows = [(joint, parent) for joint, parent in enumerate(parents) if parent >= 0]
    rows, columns = zip(*arrows) if arrows else ((), ())
    graph = csr_array((np.ones(len(arrows)), (rows, columns)), shape=(len(parents), len(parents)))
    label = connected_components(graph, connection="strong")[1]
    theirs = {j for j in range(len(parents)) if (label == label[j]).sum() > 1 or parents[j] == j}
    assert members(parents) == theirs
    order, stuck = parents_first(parents)
    assert (stuck in theirs) if theirs else (stuck == -1 and sorted(order) == list(range(len(parents))))


def test_parent_lists_of_every_kind_whatever_the_seed():
    for seed in range(10):
        found = cases_of("02.4", 0, b"%d" % seed)
        assert sum(map(is_sound, found)) >= 5 and sum(map(has_cycle, found)) >= 5
        sizes = {len(members(case.inputs["parents"])) for case in found}
        assert {0, 1, 2, 3} <= sizes and max(sizes) > 3


# ---- 02.5 ----------------------------------------------------------------------------------------------------------


def by_reparent(parents, turns, offsets, joint, new_parent):
    """The package's own: Skeleton.reparent, then read the joint's local values."""
    names = [f"joint_{i}" for i in range(len(parents))]
    skeleton = Skeleton(names, parents, offsets, from_matrix(turns)).reparent(names[joint], None if new_parent < 0 else names[new_parent])
    row = skeleton.index(names[joint])
    return to_matrix(skeleton.rest_rotations[row]), skeleton.rest_translations[row]


def by_solving(parents, turns, offsets, joint, new_parent):
    """Another right way: what, put on the new parent, gives the joint? Solved as linear equations."""
    frames, put = by_matrices(parents, turns, offsets)
    world = np.eye(4)[None].repeat(len(parents), axis=0)
    world[:, :3, :3], world[:, :3, 3] = frames, put
    local = world[joint] if new_parent < 0 else np.linalg.solve(world[new_parent], world[joint])
    return local[:3, :3], local[:3, 3]


@pytest.mark.parametrize("variant", (0, 41))
@pytest.mark.parametrize("seed", (None, b"one", b"two"))
@pytest.mark.parametrize("answer", (by_reparent, by_solving))
def test_every_right_re_parenting_earns_full_marks(answer, seed, variant):
    result = judged("02.5", answer, variant, seed)
    assert result.earned == 5, panel(result).text


def test_a_new_parent_never_hangs_below_the_joint():
    for seed in range(10):
        for case in cases_of("02.5", seed % 3, b"%d" % seed):
            changed = list(case.inputs["parents"])
            changed[case.inputs["joint"]] = case.inputs["new_parent"]
            assert parents_first(changed)[1] == -1


def test_a_forward_that_is_wrong_does_not_earn_the_re_parenting():
    def with_swapped(parents, turns, offsets, joint, new_parent):
        frames, put = CHECKPOINT["02.2"].mistakes[0].answer(parents, turns, offsets)
        if new_parent < 0:
            return frames[joint], put[joint]
        return frames[new_parent].T @ frames[joint], frames[new_parent].T @ (put[joint] - put[new_parent])

    assert judged("02.5", with_swapped).earned < 5
    assert judged("02.5", rehang).earned == 5
