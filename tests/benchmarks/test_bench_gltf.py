"""Files in and out: Tally with its walk, and a skinned mesh of 200,000 vertices, beside trimesh and pygltflib. Run with `--benchmark-only`.

trimesh reads vertices, faces and nodes and no skin; pygltflib reads the JSON and leaves the arrays as bytes. Both do less
than rigkit on the same file; nothing that does the same is at hand.
"""

import numpy as np
import pygltflib
import pytest
import trimesh

import rigkit as rk
from rigkit.robot.rig import rigged_tally

LARGE = 200_000


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Name to the character and its file."""
    home, tally = tmp_path_factory.mktemp("files"), rigged_tally()
    found = {"Tally": tally, "large": large(tally.skeleton)}
    for name, character in found.items():
        rk.save(character, home / f"{name}.glb")
    return {name: (character, home / f"{name}.glb") for name, character in found.items()}


def large(skeleton):
    """A sheet of 200,000 vertices, each on four joints."""
    wide = 500
    x, y = np.meshgrid(np.arange(wide), np.arange(LARGE // wide))
    points = np.stack([x, y, np.sin(x / 9) + np.cos(y / 7)], axis=-1).reshape(-1, 3) / 100
    corner = (np.arange(LARGE // wide - 1)[:, None] * wide + np.arange(wide - 1)).reshape(-1, 1)
    weights = np.zeros((LARGE, 40))
    rng = np.random.default_rng(0)
    for k in range(4):
        weights[np.arange(LARGE), (points[:, 1] * 9).astype(int) % 36 + k] = rng.uniform(0.1, 1, LARGE)
    part = rk.Part(
        "sheet",
        rk.Mesh(points, corner + [0, 1, wide + 1, wide]),
        skeleton.names[:40],
        weights / weights.sum(axis=1, keepdims=True),
        kind="sleeve",
        smooth=True,
    )
    return rk.Character("large", skeleton, [part])


READERS = {
    "rigkit": rk.load,
    "trimesh": lambda path: trimesh.load(path, process=False),
    "pygltflib": lambda path: pygltflib.GLTF2().load(str(path)),
}


@pytest.mark.benchmark(group="load Tally, 82 parts, a rig and a walk")
@pytest.mark.parametrize("library", list(READERS))
def test_load_tally(benchmark, files, library):
    assert benchmark(READERS[library], files["Tally"][1])


@pytest.mark.benchmark(group=f"load a skinned mesh, {LARGE:,} vertices, 40 joints")
@pytest.mark.parametrize("library", list(READERS))
def test_load_large(benchmark, files, library):
    assert benchmark.pedantic(READERS[library], args=(files["large"][1],), rounds=3, iterations=1)


@pytest.mark.benchmark(group="save Tally, its walk baked")
@pytest.mark.parametrize("library", ["rigkit", "trimesh, meshes alone"])
def test_save_tally(benchmark, files, library, tmp_path):
    character, path = files["Tally"]
    if library == "rigkit":
        saved = benchmark(rk.save, character, tmp_path / "saved.glb")
        assert saved.size < 1_000_000
    else:
        scene = trimesh.load(path, process=False)
        assert benchmark(lambda: scene.export(file_type="glb"))


@pytest.mark.benchmark(group=f"save a skinned mesh, {LARGE:,} vertices")
@pytest.mark.parametrize("library", ["rigkit, as it came", "rigkit, anew", "trimesh, mesh alone"])
def test_save_large(benchmark, files, library, tmp_path):
    character, path = files["large"]
    if library == "trimesh, mesh alone":
        scene = trimesh.load(path, process=False)
        assert benchmark.pedantic(lambda: scene.export(file_type="glb"), rounds=3, iterations=1)
    else:
        character = rk.load(path) if library == "rigkit, as it came" else character
        assert benchmark.pedantic(rk.save, args=(character, tmp_path / "saved.glb"), rounds=3, iterations=1).size > 1_000_000
