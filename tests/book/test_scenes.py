"""What is written down of a scene stands for what the package itself draws: corners, poses, marks, sliders."""

import base64
import json
import zlib
from types import SimpleNamespace

import numpy as np
import pytest

import rigkit as rk
from rigkit.book import chains, figures, motion, panels, scenes, turning
from rigkit.robot.rig import tally_rig
from rigkit.view.figure import Figure

ROBOT = rk.tally()
ARM = [ROBOT.landmarks[f"left_{name}"] for name in ("shoulder", "elbow", "wrist")]


@pytest.fixture
def viewer():
    made = scenes.Recorder(ROBOT, "a scene")
    yield made
    made.close()


def unpacked(model):
    """The blocks of a model: triangles, points, slots, shares, normals."""
    data, v, t, at, found = zlib.decompress(base64.b64decode(model["data"])), model["corners"], model["triangles"], 0, []
    for kind, rows, width in ((np.uint32, t, 3), (np.uint16, v, 3), (np.uint16, v, 4), (np.uint8, v, 4), (np.int8, v, 3)):
        block = np.frombuffer(data, np.dtype(kind).newbyteorder("<"), rows * width, at).reshape(rows, width)
        at += block.nbytes
        found.append(block)
    assert at == len(data)
    return found


def drawn(model, carried):
    """The corners as the page's script places them, (V, 3)."""
    _, points, slots, shares, _ = unpacked(model)
    rest = np.array(model["low"]) + points * model["step"]
    each = np.einsum("vkab,vb->vka", carried[slots][..., :3], rest) + carried[slots][..., 3]
    return np.einsum("vk,vka->va", shares / 255.0, each)


def posed(figure):
    return np.concatenate([figure.now(branch)[0] for branch in figure.branches])


def test_corners_on_a_page_are_the_models_within_a_twentieth_of_a_millimetre():
    figure = Figure(ROBOT)
    model = figures.model(figure)
    assert np.abs(drawn(model, figures.motions(figure, None)) - figure.points()).max() < 5e-5
    triangles = unpacked(model)[0]
    assert triangles.max() < model["corners"] and len(triangles) == sum(len(b.triangles) for b in figure.branches)


def test_a_posed_model_on_a_page_is_the_one_the_viewer_draws(viewer):
    turns = np.random.default_rng(0).normal(0, 0.2, (len(ROBOT.skeleton), 3))
    viewer.pose(rk.rotation.multiply(ROBOT.skeleton.rest_rotations, rk.rotation.from_vector(turns)))
    off = np.linalg.norm(drawn(figures.model(viewer.figure), figures.motions(viewer.figure, viewer.stance)) - posed(viewer.figure), axis=1)
    assert off.max() < 2e-3, "soft parts keep four of their joints and 255ths of their weights"
    assert np.median(off) < 5e-5


def test_bent_parts_on_a_page_are_the_ones_the_viewer_draws(viewer):
    moving = ["left_forearm_tube", "left_forearm_band"]
    viewer.bend_at(ARM[1], ROBOT.hinges["left_elbow"], ["left_upper_arm_tube"], moving, "left_elbow_sleeve")
    viewer.panel.turn(70)
    off = np.abs(drawn(figures.model(viewer.figure), figures.motions(viewer.figure, viewer.stance)) - posed(viewer.figure))
    assert off.max() < 1e-3 and np.abs(posed(viewer.figure) - viewer.figure.rest.positions[0]).max() > 0


def test_the_same_value_is_kept_once():
    pool = scenes.Pool()
    assert pool.put([1, 2]) == pool.put([1, 2]) != pool.put([2, 1])
    assert pool.values == [[1, 2], [2, 1]]


def test_strokes_that_go_on_are_one_line():
    from rigkit.view import marks

    told = scenes.layer(marks.Layer(strokes=(marks.path([[0, 0, 0], [1, 0, 0], [1, 1, 0]], "#FF0000", 2.0),)))
    assert told["strokes"] == [["#FF0000", 2.0, 2.0, [[0, 0, 0, 1, 0, 0, 1, 1, 0]]]]


def test_a_table_holds_what_the_viewer_says_at_every_setting(viewer):
    viewer.bend_at(ARM[1], ROBOT.hinges["left_elbow"], ["left_upper_arm_tube"], ["left_forearm_tube"], "left_elbow_sleeve")
    viewer.panel._slider.value = 10
    before, pool = viewer._status_text, scenes.Pool()
    told = panels.described(viewer, pool)
    assert told["kind"] == "table" and len(told["states"]) == 121 and viewer._status_text == before
    for degrees in (0, 40, 120):
        viewer.panel._slider.value = degrees
        assert told["states"][degrees]["told"] == viewer._status_text
        assert pool.values[told["states"][degrees]["rows"]] == [list(row) for row in viewer._all_rows()]


def test_too_many_settings_are_made_coarser_and_the_page_says_so(viewer):
    viewer.sliders({"a": (-90, 90), "b": (0, 90)}, lambda degrees: viewer.table([("sum", f"{degrees['a'] * degrees['b']:.0f}")]))
    told = panels.described(viewer, scenes.Pool())
    assert told["kind"] == "table" and 100 < len(told["states"]) <= panels.NODES
    assert all(0.0 in dial["values"] for dial in told["dials"]) and "in steps of" in told["note"]


def test_a_posed_rig_is_written_down_as_it_stands_and_one_number_of_it_as_a_table(viewer, monkeypatch):
    monkeypatch.setattr(panels, "NODES", 4)
    viewer.rig(tally_rig(), "left_foot_control", "roll", {"left_hand_control.move_y": 0.1})
    pool, before = scenes.Pool(), viewer._status_text
    told = panels.described(viewer, pool)
    assert told["kind"] == "table" and told["dials"][0]["values"] == [-45, 0, 45, 90] and viewer.values.keys() == {"left_hand_control.move_y"}
    assert told["note"].startswith("Each slider is one number of the left foot control. Here in steps of 45")
    assert "roll 45.0 degrees" in told["states"][2]["told"] and viewer._status_text == before
    viewer.rig(tally_rig())
    assert panels.described(viewer, pool)["kind"] == "none" and viewer.state(pool)["marks"]


def test_only_the_formula_is_solved_on_the_page(viewer):
    target, pole = ARM[2] + [0.05, 0.1, 0.1], ARM[1] + [0, 0, -0.3]
    viewer.limb(*ARM, target, pole, rk.limb.solve)
    assert panels.described(viewer, scenes.Pool())["kind"] == "limb"

    def wrong(root, mid, end, target, pole):
        s = rk.limb.solve(root, mid, end, target, pole)
        return SimpleNamespace(mid=s.mid + 1e-4, end=s.end)

    viewer.limb(*ARM, target, pole, wrong)
    assert panels.described(viewer, scenes.Pool())["kind"] == "none"


def axes_of(order, *angles):
    return rk.rotation.from_euler(order, angles)


@pytest.mark.parametrize("order,found", [("YZX", [0, 1, 2]), ("zyx", [2, 1, 0])])
def test_turns_about_moving_and_fixed_axes_are_found_as_products(viewer, order, found):
    viewer.turn("left_elbow_joint", {letter: (-90, 90) for letter in order}, lambda *angles: axes_of(order, *angles))
    factors, upright = turning.as_product(viewer.panel, 3)
    assert [k for k, _ in factors] == found
    angles = np.radians([20.0, -50.0, 70.0])
    q = turning._multiplied([k for k, _ in factors], dict(factors), angles)
    assert rk.rotation.angle(q, axes_of(order, *angles)) < 1e-9


def test_a_turn_that_is_no_product_is_written_down_at_every_setting(viewer):
    def turn(swing, side):
        return rk.rotation.from_axis_angle([np.cos(side), np.sin(side), 0], swing)

    viewer.turn("left_elbow_joint", {"swing": (-60, 60), "side": (-180, 180)}, turn)
    told = turning.described(viewer, viewer.panel, scenes.Pool(), [])
    assert "factors" not in told and "in steps of" in told["note"]
    step, counts = told["sliders"][0]["step"], [round((one["high"] - one["low"]) / one["step"]) + 1 for one in told["sliders"]]
    turns = np.array(told["turns"]).reshape(*counts, 4)
    assert rk.rotation.angle(turns[-1, 3], turn(np.radians(60), np.radians(-180 + 3 * step))) < 1e-5


def bend(viewer):
    """A cell's function: forward kinematics of the left arm, with the arm drawn over it."""
    skeleton = ROBOT.skeleton
    rows = [skeleton.index(f"left_{name}_joint") for name in ("shoulder", "elbow", "wrist")]

    def move(degrees):
        local = skeleton.rest_rotations.copy()
        for name, angle in degrees.items():
            k = skeleton.index(f"left_{name}_joint")
            local[k] = rk.rotation.multiply(local[k], rk.rotation.from_axis_angle([0, 0, 1], np.radians(angle)))
        viewer.pose(local)
        viewer.joints(skeleton.forward(local).positions[rows], ["left_shoulder", "left_elbow", "left_wrist"])

    return move


def test_forward_kinematics_behind_sliders_is_found(viewer):
    viewer.sliders({"elbow": (0, 90), "shoulder": (-60, 60)}, bend(viewer))
    told = chains.described(viewer, viewer.panel, scenes.Pool())
    assert told["kind"] == "chain" and told["order"] == [1, 0], "the shoulder is nearer to the root"
    axis, point = told["screws"][0]
    hinge, elbow = ROBOT.hinges["left_elbow"], ROBOT.landmarks["left_elbow"]
    assert abs(np.dot(axis, hinge)) > 1 - 1e-9
    assert np.linalg.norm(np.cross(np.subtract(point, elbow), hinge)) < 1e-6, "the axis runs through the elbow"


def test_sliders_that_are_no_forward_kinematics_are_left_to_a_table(viewer):
    move = bend(viewer)
    viewer.sliders({"elbow": (0, 90), "shoulder": (-60, 60)}, lambda degrees: move({**degrees, "elbow": degrees["elbow"] + 0.5 * degrees["shoulder"]}))
    assert chains.described(viewer, viewer.panel, scenes.Pool()) is None


def test_a_planted_foot_of_the_walk_does_not_slide():
    """On the spot the floor runs backwards at the walk's speed; so does a foot that stands flat."""
    from rigkit.robot.rig import tally_rig
    from rigkit.walk import walk

    rig = tally_rig(0)
    told = walk(rig, "centre_body_control")
    contact = next(one for one in told.contacts if one.end - one.start > 0.2)
    times = np.linspace(contact.start, contact.end, 12)
    turns, moves = motion.carried(rig, told.motion, times)
    k = rig.skeleton.index(contact.joint)
    place = np.einsum("tab,b->ta", turns[:, k], np.asarray(contact.point)) + moves[:, k]
    assert np.ptp(place, axis=0).max() < 1e-3


def test_what_is_written_down_is_plain_json(viewer):
    pool = scenes.Pool()
    viewer.limb(*ARM, ARM[2], ARM[1] + [0, 0, -0.3], rk.limb.solve)
    json.dumps([viewer.described(pool), panels.described(viewer, pool), pool.values, pool.models], allow_nan=False)
