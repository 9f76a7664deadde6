"""The audit of a heavy figure, 200,000 vertices on 46 joints; beside trimesh's plane sections. Run with `--benchmark-only`.

No general-purpose library audits a rig. trimesh is given a part of the work, the easier one: cut the same mesh with one plane at
each joint. Ours cuts it by the weights of every joint, and measures the rest by all its rules besides.
"""

from functools import lru_cache

import numpy as np
import pytest
import trimesh

import rigkit as rk
from rigkit import audit

VERTICES = 200_000


@lru_cache(maxsize=1)
def heavy():
    """Tally's parts as one skin on all joints, each triangle cut in four again and again."""
    robot, pieces = rk.tally(), []
    for part in robot.parts:
        full = np.zeros((len(part.mesh.vertices), len(robot.skeleton)))
        full[:, [robot.skeleton.index(j) for j in part.joints]] = part.weights
        pieces.append((part.mesh.vertices, part.mesh.triangles, full))
    while sum(len(v) for v, _, _ in pieces) < VERTICES:
        smallest = min(range(len(pieces)), key=lambda k: len(pieces[k][0]))
        pieces[smallest] = cut_in_four(*pieces[smallest])
    starts = np.cumsum([0, *(len(v) for v, _, _ in pieces[:-1])])
    vertices, weights = (np.concatenate([piece[k] for piece in pieces]) for k in (0, 2))
    triangles = np.concatenate([t + start for (_, t, _), start in zip(pieces, starts)])
    part = rk.Part("skin", rk.Mesh(vertices, triangles), robot.skeleton.names, weights, "sleeve")
    return rk.Character("heavy", robot.skeleton, [part])


def cut_in_four(vertices, triangles, weights):
    """Each triangle in four at the middles of its edges."""
    ends = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    edges, number = np.unique(ends, axis=0, return_inverse=True)
    middle = number.reshape(-1, 3) + len(vertices)
    corners = [np.stack([triangles[:, k], middle[:, k], middle[:, k - 1]], axis=1) for k in range(3)]
    grown = (np.concatenate([rows, rows[edges].mean(axis=1)]) for rows in (vertices, weights))
    vertices, weights = grown
    return vertices, np.concatenate([*corners, middle]), weights


@pytest.mark.benchmark(group="a figure of 200,000 vertices", min_rounds=2, max_time=1.0)
def test_audit(benchmark):
    report = benchmark(audit.examine, heavy())
    assert list(report) == [] and report.examined["joint_centre"] > 10


@pytest.mark.benchmark(group="a figure of 200,000 vertices", min_rounds=2, max_time=1.0)
def test_one_section_a_joint_by_trimesh(benchmark):
    character = heavy()
    mesh = trimesh.Trimesh(character.parts[0].mesh.vertices, character.parts[0].mesh.triangles, process=False)
    planes = [(p, (0.0, 1.0, 0.0)) for p in character.skeleton.rest_world.positions]
    sections = benchmark(lambda: [trimesh.intersections.mesh_plane(mesh, normal, point) for point, normal in planes])
    assert sum(len(s) > 0 for s in sections) > 30
