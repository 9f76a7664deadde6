"""Corners: the vertices of a mesh, split where its faces meet at an edge, so that it shades right.

Smooth where faces meet at a small angle, crisp at an edge: a vertex becomes as many corners as it has normals.
"""

import numpy as np

CREASE = {True: np.radians(50), False: np.radians(25)}  # faces that meet at less are shaded as one surface: smooth parts, hard parts


def corners(vertices, triangles, crease):
    """Split vertices along edges sharper than `crease` radians: points, unit normals (V', 3), triangles (T, 3), source (V',).

    A corner's normal is the mean of the normals of its vertex's faces (weighted by
    area) that lie within `crease` of its own face. Corners of one vertex with the
    same normal are one.
    """
    vertices, triangles = np.asarray(vertices), np.asarray(triangles)
    area = np.cross(vertices[triangles[:, 1]] - vertices[triangles[:, 0]], vertices[triangles[:, 2]] - vertices[triangles[:, 0]])
    unit = area / np.maximum(np.linalg.norm(area, axis=1, keepdims=True), 1e-30)
    owner, face = triangles.ravel(), np.repeat(np.arange(len(triangles)), 3)
    order = np.argsort(owner, kind="stable")
    counts = np.bincount(owner, minlength=len(vertices))
    first = np.concatenate([[0], np.cumsum(counts)[:-1]])
    mine = np.repeat(np.arange(len(owner)), counts[owner])  # every pair of corners of one vertex
    within = np.arange(len(mine)) - np.repeat(np.cumsum(counts[owner]) - counts[owner], counts[owner])
    theirs = order[first[owner[mine]] + within]
    near = np.einsum("pi,pi->p", unit[face[mine]], unit[face[theirs]]) > np.cos(crease)
    normals = np.zeros((len(owner), 3))
    np.add.at(normals, mine[near], area[face[theirs[near]]])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)
    rounded = np.round((normals + 1) * 500).astype(np.int64)
    key = ((owner * 1024 + rounded[:, 0]) * 1024 + rounded[:, 1]) * 1024 + rounded[:, 2]
    _, keep, number = np.unique(key, return_index=True, return_inverse=True)
    return vertices[owner[keep]], normals[keep], number.reshape(-1, 3), owner[keep]
