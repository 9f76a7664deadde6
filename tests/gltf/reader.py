"""A second reader for what rigkit writes: PyPI pygltflib (MIT) for the container, numpy for the rest, and nothing of rigkit.

It does what any viewer does, by the specification: nodes T * R * S (3.5.3), LINEAR samplers with slerp (Appendix C), skinning by
sum w_j G_j B_j (3.7.3.3). It shows where every vertex of a file stands at a moment.
"""

import numpy as np
import pygltflib
from scipy.spatial.transform import Rotation, Slerp

KINDS = {5120: "i1", 5121: "u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT4": 16}


class File:
    """A file as pygltflib has it."""

    def __init__(self, path):
        self.gltf = pygltflib.GLTF2().load(str(path))
        self.bytes = (
            self.gltf.binary_blob()
            if str(path).endswith(".glb")
            else self.gltf.get_data_from_buffer_uri(self.gltf.buffers[0].uri)
            if self.gltf.buffers[0].uri.startswith("data:")
            else (path.parent / self.gltf.buffers[0].uri).read_bytes()
        )

    def array(self, number):
        """An accessor, (count, n)."""
        item = self.gltf.accessors[number]
        view, dtype, width = self.gltf.bufferViews[item.bufferView], np.dtype(KINDS[item.componentType]), WIDTHS[item.type]
        start, stride = (view.byteOffset or 0) + (item.byteOffset or 0), view.byteStride or dtype.itemsize * width
        rows = [np.frombuffer(self.bytes, dtype, width, start + k * stride) for k in range(item.count)]
        out = np.array(rows)
        return out / np.iinfo(dtype).max if item.normalized else out

    def node(self, name):
        """The number of the node of a name."""
        return next(n for n, node in enumerate(self.gltf.nodes) if node.name == name)

    def animation(self, name):
        return next(one for one in self.gltf.animations if one.name == name)

    def local(self, animation=None, time=0.0):
        """Local transforms (N, 4, 4)."""
        values = [
            {"translation": node.translation or [0, 0, 0], "rotation": node.rotation or [0, 0, 0, 1], "scale": node.scale or [1, 1, 1]}
            for node in self.gltf.nodes
        ]
        for channel in animation.channels if animation else ():
            sampler = animation.samplers[channel.sampler]
            assert sampler.interpolation in (None, "LINEAR")
            times, keys = self.array(sampler.input)[:, 0].astype(float), self.array(sampler.output).astype(float)
            at = np.clip(time, times[0], times[-1])
            if len(times) == 1:
                value = keys[0]
            elif channel.target.path == "rotation":
                value = Slerp(times, Rotation.from_quat(keys))(at).as_quat()
            else:
                value = [np.interp(at, times, column) for column in keys.T]
            values[channel.target.node][channel.target.path] = value
        out = np.tile(np.eye(4), (len(values), 1, 1))
        for matrix, node, value in zip(out, self.gltf.nodes, values):
            if node.matrix is not None:
                matrix[:] = np.reshape(node.matrix, (4, 4)).T
                continue
            matrix[:3, :3] = Rotation.from_quat(value["rotation"]).as_matrix() * value["scale"]
            matrix[:3, 3] = value["translation"]
        return out

    def world(self, animation=None, time=0.0):
        """World transforms (N, 4, 4)."""
        local = self.local(animation, time)
        world, waiting = local.copy(), list(self.gltf.scenes[self.gltf.scene or 0].nodes)
        while waiting:
            node = waiting.pop()
            for child in self.gltf.nodes[node].children or ():
                world[child] = world[node] @ local[child]
                waiting.append(child)
        return world

    def picture(self, animation=None, time=0.0):
        """Mesh name to where its vertices stand, (V, 3)."""
        world, found = self.world(animation, time), {}
        for number, node in enumerate(self.gltf.nodes):
            if node.mesh is None:
                continue
            mesh = self.gltf.meshes[node.mesh]
            attributes = mesh.primitives[0].attributes
            points = np.c_[self.array(attributes.POSITION), np.ones(self.gltf.accessors[attributes.POSITION].count)]
            if node.skin is None:
                found[mesh.name] = (points @ world[number].T)[:, :3]
                continue
            skin = self.gltf.skins[node.skin]
            binds = self.array(skin.inverseBindMatrices).reshape(-1, 4, 4).transpose(0, 2, 1)
            matrices = world[skin.joints] @ binds
            joints, weights = self.array(attributes.JOINTS_0), self.array(attributes.WEIGHTS_0)
            assert getattr(attributes, "JOINTS_1", None) is None
            found[mesh.name] = np.einsum("vk,vkij,vj->vi", weights, matrices[joints], points)[:, :3]
        return found

    def vertices_of_parts(self, mesh):
        """The part's vertex of each written one."""
        one = next(m for m in self.gltf.meshes if m.name == mesh)
        return self.array(getattr(one.primitives[0].attributes, "_RIGKIT_VERTEX")).astype(int)[:, 0]
