"""Chapter 08: right answers of any kind earn full marks, wrong turns cost their own claims, and the facts told are facts."""

import ast
import re

import numpy as np
import pytest
from matplotlib.path import Path
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

import rigkit as rk
from rigkit import control as controls
from rigkit import mirror, naming, words
from rigkit.audit import rulebook
from rigkit.course import context as contexts
from rigkit.course.chapters import chapter_08_budget as budget
from rigkit.course.chapters import chapter_08_markers as markers_08
from rigkit.course.chapters import chapter_08_outline as outline_08
from rigkit.course.chapters.chapter_08_control import drawn
from rigkit.course.chapters.chapter_08_home import put_home
from rigkit.course.chapters.chapter_08_names import label
from rigkit.course.chapters.chapter_08_other import other_side
from rigkit.course.chapters.chapter_08_outline import outline
from rigkit.course.collect import collect
from rigkit.course.judge import judge, tried_text
from rigkit.course.panel import panel
from rigkit.outline import LEAST_SHARE
from rigkit.robot.rig import tally_rig
from tests.course.boxes import boxes, promised
from tests.course.tried import Tried, likely, missed

TRIED = Tried("08")
CHAPTER, TEXT, CHECKPOINT = TRIED.chapter, TRIED.text, TRIED.checkpoint
context, judged, cases_of, cells = TRIED.context, TRIED.answered, TRIED.cases_of, TRIED.cells


# ---- the text ----------------------------------------------------------------------------------------------------


def test_the_text_promises_the_points_that_are_given():
    assert boxes(CHAPTER) == promised(CHAPTER)[:-1]  # the last one is read by a person, and its box says so
    assert "**Checkpoint 08.7 · What would confuse an animator** · 3 points, read by a person" in TEXT
    assert sum(one.points for one in CHAPTER.checkpoints) == 39  # the title card says so


def test_the_minutes_of_the_ideas_are_told():
    assert [int(n) for n in re.findall(r"^\*(\d+) minutes", TEXT, re.MULTILINE)] == [55, 30, 40, 20, 5]


def test_no_name_of_a_cell_can_stand_in_for_a_line_forgotten_in_a_function():
    assert TRIED.worked_functions() == [
        "number_in_series",
        "label",
        "outline",
        "out_and_back",
        "put_home",
        "mirrored_place",
        "other_side",
    ]


def test_every_scene_sets_its_own_view():
    scenes = [ast.unparse(tree) for tree in cells() if "viewer.clear()" in ast.unparse(tree)]
    assert len(scenes) == 5
    for scene in scenes:
        assert all(f"viewer.{call}(" in scene for call in ("look", "see_through", "show", "caption")), scene
        assert "viewer.whole(" in scene or "viewer.focus(" in scene, scene


@pytest.mark.parametrize("name", CHECKPOINT)
def test_a_panel_is_never_cut(name):
    checkpoint = CHECKPOINT[name]
    assert all(len(claim.text) < 80 for claim in checkpoint.claims)
    for variant, seed in ((0, None), (41, b"one")):
        for mistake in checkpoint.mistakes:
            result = judged(name, mistake.answer if checkpoint.kind == "function" else mistake.answer(context(variant)), variant, seed)
            assert "..." not in panel(result, can_show=True).text, f"{mistake.name}\n{panel(result, can_show=True).text}"


@pytest.mark.parametrize("name", [name for name, one in CHECKPOINT.items() if one.kind == "function"])
def test_what_was_tried_fits_its_line_whatever_the_seed(name):
    for seed in range(20):
        for case in CHECKPOINT[name].cases(np.random.default_rng(seed), context(seed % 3)):
            assert len(tried_text(case)) <= 80, tried_text(case)


def test_the_package_s_own_is_closed():
    """What would hand an answer over is closed in the chapter's checks; what only helps is open."""

    def by_package(rows):
        tidy = [["_".join(text.lower().split()) for text in row] for row in rows]
        return [(controls.build_name(*row), *words.SIDE_COLOUR) for row in tidy]

    def fitted(part, pivot, axis, height):
        return controls.fit(rk.control.Control("left_foot_control", pivot), "ring", part).outline.points

    for name, answer in (("08.1", by_package), ("08.2", fitted)):
        checkpoint = CHECKPOINT[name]
        cases = contexts.cases(checkpoint, context(0))
        result = judge(checkpoint, collect(checkpoint, dict.fromkeys(checkpoint.names, answer), cases), context(0), cases)
        assert result.earned == 0 and {claim.outcome for claim in result.claims} == {"closed book"}, name
    assert {"control.mirrored", "control.both_sides"} <= set(CHAPTER.closed)


# ---- what is handed out --------------------------------------------------------------------------------------------


def test_the_stray_set_has_the_faults_that_the_text_tells_of():
    for variant in (0, 7, 41):
        given = context(variant).given
        assert len(given["stray"]) == 10 and all(len(naming.problems(name)) for name in given["stray"])
        widths = {round(float(np.ptp(one["points"], axis=0).max()), 3) for one in given["stray"].values()}
        assert widths == {0.03} and 0.03 < LEAST_SHARE * given["height"]
        marks = context(variant).robot.landmarks
        for side, name in (("left", "pt_1"), ("right", "pt_1_copy")):  # in front of the elbow, where its limb does not bend to
            ahead = given["stray"][name]["at"] - marks[f"{side}_elbow"]
            assert (
                np.allclose(ahead, [0, 0, 0.30]) and marks[f"{side}_elbow"][2] < (marks[f"{side}_shoulder"] + marks[f"{side}_wrist"])[2] / 2
            )
        assert {name for _, name in given["stray_wanted"]} <= set(given["stray"])


def test_the_own_set_can_be_told_apart_and_outlined_for_every_variant():
    for variant in (0, 7, 41, 99):
        own = context(variant).given["own"]
        labels = label([one["row"] for one in own.values()])
        assert not naming.check([name for name, _, _ in labels])
        assert {what for _, what in context(variant).given["own_wanted"]} <= set(own)
        points = outline(own["body"]["part"], own["body"]["pivot"], own["body"]["axis"], context(variant).given["height"])
        assert points == pytest.approx(own["body"]["points"])


# ---- 08.1 ----------------------------------------------------------------------------------------------------------


def test_names_of_the_worked_answer_keep_the_rule_of_the_package():
    """The package's own rule says so: no problem in any name, all different, and parse gives the row back."""
    for seed in (None, b"one", b"two", b"three"):
        for case in cases_of("08.1", 7, seed):
            names = [name for name, _, _ in label(case.inputs["rows"])]
            assert not naming.check(names), naming.check(names)
            for row, name in zip(case.inputs["rows"], names):
                side, part, kind, _ = naming.parse(name)
                assert (side, part, kind) == tuple("_".join(text.lower().split()) for text in row)


@pytest.mark.source("Okabe & Ito")
def test_colours_are_those_of_the_published_palette():
    # Okabe and Ito (2002), in Wong, Nature Methods 8:441 (2011): sky blue 86, 180, 233 and orange 230, 159, 0 (memory)
    (_, left, _), (_, right, _) = label([("left", "foot", "control"), ("right", "foot", "control")])
    assert left[1:].lower() == bytes([86, 180, 233]).hex() and right[1:].lower() == bytes([230, 159, 0]).hex()


def test_another_way_of_counting_earns_full_marks():
    def with_a_dict(rows):
        seen, every, out = {}, {}, []
        tidy = [tuple(text.casefold().replace(" ", "_") for text in row) for row in rows]
        for row in tidy:
            every[row] = every.get(row, 0) + 1
        for row in tidy:
            seen[row] = seen.get(row, 0) + 1
            first, *rest = row[1].split("_")
            number = [str(seen[row]).zfill(2)] if every[row] > 1 else []
            out.append(["_".join([row[0], first, *number, *rest, row[2]]), words.SIDE_COLOUR[row[0]].lower(), words.SIDE_LINE[row[0]]])
        return out

    for seed in (None, b"one"):
        assert judged("08.1", with_a_dict, 41, seed).earned == 6


def test_a_list_that_is_too_short_is_told_and_fails_nothing():
    result = judged("08.1", lambda rows: label(rows)[:-1])
    assert result.earned == 0 and "labels, one for each row" in panel(result).text


# ---- 08.2 ----------------------------------------------------------------------------------------------------------


def square_corners(part, pivot, axis, height):
    """Another right outline: a square whose sides keep off."""
    half = max(1.06 * outline_08.radius_of(part, pivot, axis), height / 40)
    u, v = outline_08.axes_across(axis)
    return pivot + half * np.array([u + v, u - v, -u - v, v - u])


def about_its_middle(part, pivot, axis, height):
    """Another: a ring about the middle of what is seen, not about the pivot."""
    u, v = outline_08.axes_across(axis)
    flat = (part - pivot) @ np.array([u, v]).T
    middle = (flat.min(axis=0) + flat.max(axis=0)) / 2
    radius = np.linalg.norm(flat - middle, axis=1).max() + 0.06 * np.linalg.norm(flat, axis=1).max()
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)[:, None]
    return pivot + middle @ np.array([u, v]) + max(radius * 1.01, height / 39) * (np.cos(turn) * u + np.sin(turn) * v)


def hull_grown(part, pivot, axis, height):
    """Another: SciPy's convex hull, pushed outwards from its middle."""
    u, v = outline_08.axes_across(axis)
    flat = (part - pivot) @ np.array([u, v]).T
    corners = flat[ConvexHull(flat).vertices]
    middle = corners.mean(axis=0)
    need = 0.12 * np.linalg.norm(flat, axis=1).max()
    grown = corners
    for _ in range(120):
        grown = middle + (grown - middle) * 1.03
        wide = np.linalg.norm(grown[:, None] - grown[None], axis=2).max()
        if outline_08.room(flat, grown) > need and wide > height / 20:
            break
    return pivot + grown @ np.array([u, v])


@pytest.mark.parametrize("answer", (square_corners, about_its_middle))
@pytest.mark.parametrize("seed", (None, b"one"))
def test_any_outline_that_encloses_its_part_earns_full_marks(answer, seed):
    for variant in (0, 41):
        result = judged("08.2", answer, variant, seed)
        assert result.earned == 5, panel(result).text


def test_an_outline_of_the_parts_own_shape_encloses_it_and_may_only_be_too_large():
    assert {"flat", "encloses", "seen"}.isdisjoint(missed(judged("08.2", hull_grown)))


@pytest.mark.source("SciPy")
def test_the_convex_hull_is_scipys():
    rng = np.random.default_rng(8)
    for count in (4, 9, 200):
        points = rng.normal(size=(count, 2))
        mine, theirs = outline_08.hull(points), points[ConvexHull(points).vertices]
        assert {tuple(p) for p in mine} == {tuple(p) for p in theirs}


@pytest.mark.source("matplotlib")
def test_what_is_inside_a_line_is_what_matplotlib_says():
    rng = np.random.default_rng(9)
    turn = np.linspace(0, 2 * np.pi, 11, endpoint=False)
    star = np.column_stack([np.cos(turn), np.sin(turn)]) * np.where(np.arange(11) % 2, 1.0, 0.4)[:, None]
    points = rng.uniform(-1, 1, (300, 2))
    assert ((outline_08.winding(points, star) != 0) == Path(star).contains_points(points)).all()


def test_room_is_the_distance_to_the_nearest_line_and_negative_outside():
    frame = np.array([[2.0, 2.0], [-2, 2], [-2, -2], [2, -2]])
    assert outline_08.room(np.array([[1, 0], [0, 0.5], [-0.5, 0]]), frame) == pytest.approx(1.0)
    assert outline_08.room(np.array([[3, 0], [0, 0.5], [-0.5, 0]]), frame) == pytest.approx(-1.0)
    assert outline_08.room(np.array([[1, 0], [0, 0.5], [-0.5, 0]]), frame[::-1]) == pytest.approx(1.0)


def test_the_least_size_is_the_package_s_and_the_audit_s():
    assert 1 / outline_08.SHARE == LEAST_SHARE
    limits = rulebook.read().rules["control_size"].limit
    assert limits[0] / 100 <= LEAST_SHARE


# ---- 08.3 ----------------------------------------------------------------------------------------------------------


def matrices(control, joint_at, joint_axes):
    """Another right way: 4 x 4 matrices of SciPy's and numpy's, with the points as columns."""
    home, shift, scale, joint = np.eye(4), np.eye(4), np.diag([*control["size"], 1.0]), np.eye(4)
    home[:3, :3], home[:3, 3] = control["axes"], control["at"]
    shift[:3, :3], shift[:3, 3] = Rotation.from_matrix(control["turn"]).as_matrix(), control["move"]
    joint[:3, :3], joint[:3, 3] = joint_axes, joint_at
    columns = np.vstack([control["points"].T, np.ones(len(control["points"]))])
    points = (np.linalg.inv(joint) @ home @ shift @ scale @ columns)[:3].T
    return {"at": list(joint_at), "axes": joint_axes.tolist(), "move": (0, 0, 0), "turn": np.eye(3), "size": [1, 1, 1], "points": points}


@pytest.mark.source("SciPy")
def test_another_way_home_earns_full_marks():
    for variant, seed in ((0, None), (41, b"one")):
        result = judged("08.3", matrices, variant, seed)
        assert result.earned == 6, panel(result).text


@pytest.mark.source("glTF 2.0")
def test_what_a_control_draws_is_translation_after_rotation_after_scale():
    # glTF 2.0 (Khronos; ISO/IEC 12113:2022), "Transformations": T * R * S. A quarter turn about z takes (2, 0, 0) to (0, 2, 0)
    quarter = np.array([[0, -1.0, 0], [1, 0, 0], [0, 0, 1]])
    loose = {
        "at": np.zeros(3),
        "axes": np.eye(3),
        "move": np.array([0, 0, 1.0]),
        "turn": quarter,
        "size": np.array([2.0, 1, 1]),
        "points": np.array([[1.0, 0, 0]]),
    }
    assert drawn(loose)[0] == pytest.approx([0, 2, 1])


def test_home_twice_is_home_once():
    for case in cases_of("08.3", 7):
        once = put_home(*case.inputs.values())
        twice = put_home(once, case.inputs["joint_at"], case.inputs["joint_axes"])
        assert all(np.allclose(once[key], twice[key]) for key in once)


def test_a_dict_with_a_name_missing_or_misspelt_is_told():
    def without(control, joint_at, joint_axes):
        return {key: value for key, value in put_home(control, joint_at, joint_axes).items() if key != "turn"}

    def with_more(control, joint_at, joint_axes):
        return {**put_home(control, joint_at, joint_axes), "scale": 1}

    assert "without 'turn'" in panel(judged("08.3", without)).text
    assert "'scale'" in panel(judged("08.3", with_more)).text


# ---- 08.4 ----------------------------------------------------------------------------------------------------------


def by_package(control, point, normal, how):
    """Another right way: a Control of the package, mirrored by it."""
    quaternion = rk.rotation.from_matrix(control["axes"])
    given = controls.Control(control["name"], control["at"], quaternion, outline=rk.outline.Outline((control["points"],), (True,)))
    other = controls.mirrored(given, mirror.Plane(point, normal), how)
    return {
        "name": other.name,
        "colour": words.SIDE_COLOUR[other.side],
        "line": words.SIDE_LINE[other.side],
        "at": other.position,
        "axes": rk.rotation.to_matrix(other.rotation),
        "size": np.ones(3),
        "points": other.outline.lines[0],
    }


@pytest.mark.parametrize("how", mirror.WAYS)
def test_matched_and_parallel_homes_both_earn_full_marks(how):
    for variant, seed in ((0, None), (41, b"one")):
        result = judged("08.4", lambda control, point, normal: by_package(control, point, normal, how), variant, seed)
        assert result.earned == 7, panel(result).text


def test_single_precision_is_precise_enough():
    def in_single(control, point, normal):
        found = other_side(control, point, normal)
        return {**found, **{key: found[key].astype(np.float32) for key in ("at", "axes", "points")}}

    assert judged("08.4", in_single, 41, b"one").earned == 7


def test_a_point_of_the_plane_not_put_on_again_is_told():
    def still_off(control, point, normal):
        return {**other_side(control, point, normal), "at": (np.eye(3) - 2 * np.outer(normal, normal)) @ (control["at"] - point)}

    result = judged("08.4", still_off, 41, b"one")
    assert missed(result) == {"place", "outline"} and any("not put on again" in told for told in likely(result))


def test_mirrored_twice_gives_the_start_back():
    for case in cases_of("08.4", 41, b"two"):
        given, point, normal = case.inputs.values()
        again = other_side(other_side(given, point, normal), point, normal)
        assert again["name"] == given["name"] and again["colour"] == given["colour"]
        assert all(np.allclose(again[key], given[key]) for key in ("at", "axes", "points"))


def test_a_marker_turned_half_round_is_told_to_be_in_front():
    def half_round(control, point, normal):
        return {**other_side(control, point, normal), "at": control["at"] * [-1, 1, -1]}

    result = judged("08.4", half_round)
    assert "place" in missed(result) and any("turned half round" in told for told in likely(result))


# ---- 08.5 ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("distance", (0.15, 0.3, 0.6))
def test_any_distance_within_the_range_and_any_place_of_the_half_plane_is_right(distance):
    known = context(41)
    left = {name: markers_08.out_of(markers_08.joints(known, name), distance) for name in markers_08.NAMES if name.startswith("left")}
    answer = {"markers": {**left, **{mirror.names(name): mirror.points(at, mirror.Plane()) for name, at in left.items()}}}
    assert judged("08.5", answer, 41).earned == 6


def test_a_marker_that_passes_moves_nothing_when_the_solver_is_switched_on():
    """The package's solver says so: no joint moves by more than a hundredth of a millimetre."""
    for variant in (0, 7, 41, 99):
        for name, at in CHECKPOINT["08.5"].worked(context(variant))["markers"].items():
            points = markers_08.joints(context(variant), name)
            solved = rk.limb.solve(*points, target=points[2], pole=at)
            assert np.linalg.norm(solved.mid - points[1]) < 1e-5


def test_markers_limits_are_the_audit_s():
    rules = rulebook.read().rules
    assert markers_08.PLANE * 1000 == rules["marker_plane"].limit and markers_08.SIDE * 1000 == rules["marker_side"].limit[0]


def test_elbows_go_back_and_knees_forward_in_every_variant():
    """Common practice in the trade, no source: elbow behind, knee in front."""
    for variant in range(0, 100, 20):
        found = CHECKPOINT["08.5"].worked(context(variant))["markers"]
        for name, at in found.items():
            joint = markers_08.joints(context(variant), name)[1]
            assert (at - joint)[2] * (-1 if "elbow" in name else 1) > 0.25


def test_a_missing_marker_and_a_misspelt_one_are_named():
    found = CHECKPOINT["08.5"].worked(context(0))["markers"]
    assert "no left_knee_marker" in panel(judged("08.5", {"markers": {k: v for k, v in found.items() if k != "left_knee_marker"}})).text
    assert "besides" in panel(judged("08.5", {"markers": {**found, "left_toe_marker": np.zeros(3)}})).text


def test_markers_in_millimetres_are_told_to_be_so():
    found = CHECKPOINT["08.5"].worked(context(0))["markers"]
    assert any("millimetres" in told for told in likely(judged("08.5", {"markers": {name: 1000 * at for name, at in found.items()}})))


# ---- 08.6 ----------------------------------------------------------------------------------------------------------


def test_the_table_agrees_with_the_channels_of_the_package_s_rig():
    """Two ways to one set: what measuring leaves open, and what the rig's author left open by thought."""
    rig, table = tally_rig(0), context(0).given["channels"]
    for name in budget.SET:
        own = [c.name for c in rig.control(name).open_channels if c.name in table[name]]
        assert sorted(c for c, told in table[name].items() if budget.useful(told)) == sorted(own), name


def test_no_channel_of_the_table_is_a_matter_of_opinion():
    """Nothing lies near the limit of 0.1, so that rounding decides nothing."""
    for channels in budget.effects().values():
        for told in channels.values():
            assert all(value == 0.0 or value >= 0.2 for value in told.values()), told


def test_leftovers_are_others_for_other_variants_and_do_nothing():
    kinds = set()
    for variant in range(12):
        more = set(context(variant).given["channels"]) - set(budget.SET)
        assert 2 <= len(more) <= 3 and more <= set(budget.LEFTOVERS)
        kinds.add(frozenset(more))
    assert len(kinds) > 3


def test_the_whole_set_is_within_the_budget():
    opens = CHECKPOINT["08.6"].worked(context(0))["open_channels"]
    rules = rulebook.read().rules
    assert budget.both_sides(opens)[0] <= budget.CONTROLS == rules["control_count"].limit
    assert max(map(len, opens.values())) <= budget.CHANNELS == rules["channel_count"].limit
    controls_left, open_left = budget.both_sides(opens)
    assert (controls_left, open_left, 6 * controls_left) == (26, 84, 156)  # the text says 156


def test_counts_are_held_against_the_learner_s_own_set():
    opens = dict(CHECKPOINT["08.6"].worked(context(0))["open_channels"])
    opens.pop("centre_hose_control")
    controls_left, channels_left = budget.both_sides(opens)
    result = judged("08.6", {"open_channels": opens, "control_count": controls_left, "channel_count": channels_left})
    assert missed(result) == {"kept"}


def test_a_right_side_that_is_listed_is_told_to_be_counted_only():
    found = CHECKPOINT["08.6"].worked(context(0))
    both = found["open_channels"] | {mirror.names(name): channels for name, channels in found["open_channels"].items()}
    assert likely(judged("08.6", {**found, "open_channels": both})) == {
        "the table lists the left side only: the right side is counted, not listed"
    }


def test_the_order_of_channels_makes_no_difference():
    found = CHECKPOINT["08.6"].worked(context(0))
    turned = {name: channels[::-1] for name, channels in reversed(found["open_channels"].items())}
    assert judged("08.6", {**found, "open_channels": turned}).earned == 6
