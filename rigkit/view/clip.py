"""A motion that the browser plays by itself: no message a frame.

All frames lie in one texture, three texels a joint, and the shaders of the model look up how its joints carry it. What tells them
the frame is a *clock*: a group whose own x is as long as the frame's number plus one. A clip of a single track stretches the
clock; to scrub, its length is set, one message. So the model's corners and marks never move in a buffer.
"""

import numpy as np
import pythreejs as three

from rigkit import words
from rigkit.view import marks, moments, shaders, trails
from rigkit.view.page import geometry

LOW = 0.12  # metres: a joint with corners below throws a shade on the floor
MARGIN = 1.45  # of a shade, over its part
OVER = 50  # as in `painter`


class Clip:
    """Draws `branches` from their pages as a Baked motion carries them. `objects` go into the scene; joints: names to mark as they go.

    heard(seconds): called when the browser says at what time it stopped.
    """

    def __init__(self, baked, branches, pages, tracked=(), heard=lambda seconds: None):
        self._baked, self._own = baked, {}
        self._texture = _texture(baked)
        texels = 3 * len(baked.names), len(baked)
        self._materials = {
            look: shaders.moving(look, self._texture, texels) for look in ("solid", "glass", "flat", "glyph", "spot", "shade")
        }
        self._meshes = [self._model(branch, pages[branch.name]) for branch in branches]
        around = [self._shades(branches), self._spots(), self._glyphs([baked.names.index(name) for name in tracked])]
        self.clock = three.Group(name="clock", children=[*self._meshes, *filter(None, around)])
        self._track = three.VectorKeyframeTrack(
            "clock.scale",
            times=np.array([0, baked.length], np.float32),
            values=np.array([1, 1, 1, len(baked), 1, 1], np.float32),
        )
        self.root = three.Group(children=[self.clock])
        self._mixer = three.AnimationMixer(self.root)
        self._clip = three.AnimationClip(name="motion", duration=baked.length, tracks=[self._track])
        self._action = three.AnimationAction(self._mixer, self._clip, self.root, clampWhenFinished=True)
        self._setting = False
        self._action.observe(lambda change: None if self._setting else heard(float(change["new"])), names="time")
        self.see_through("solid")

    def show(self, frame):
        """Stand at a frame."""
        self.clock.scale = (1.0 + float(frame), 1.0, 1.0)

    def play(self, seconds, speed, loop):
        """Play from a time on."""
        self.pace(speed, loop)
        self._setting = True
        self._action.time = float(seconds)
        self._setting = False
        self._action.play()

    def pause(self):
        """Stop where the browser is; `heard` says where."""
        self._action.pause()

    def pace(self, speed, loop):
        """Go on faster or slower."""
        self._action.loop = "LoopRepeat" if loop else "LoopOnce"
        self._action.timeScale = float(speed)

    def see_through(self, look):
        """Draw the model "solid", as "glass" or "flat"."""
        for mesh in self._meshes:
            mesh.material, mesh.renderOrder = self._materials[look], 10 if look == "glass" else 0

    def close(self):
        """Close every widget of the clip."""
        for thing in self.clock.children:
            close_all(*self._own[thing.model_id], thing.geometry, thing)
        close_all(*self._materials.values(), self._texture, self.clock, self._track)
        close_all(self._action.layout, self._action, self._clip, self._mixer, self.root)

    # parts

    def _made(self, kind, shape, attributes, look, order):
        made = kind(shape, self._materials[look], frustumCulled=False, renderOrder=order)
        self._own[made.model_id] = attributes
        return made

    def _model(self, branch, page):
        """A branch drawn from the rest pose that its page holds."""
        joints, weights = hung(branch)
        shape, index = geometry(page, branch.triangles)
        own = {"joints": _attribute(joints), "shares": _attribute(weights)}
        shape.attributes = {**shape.attributes, **own}
        return self._made(three.Mesh, shape, [index, *own.values()], "solid", 0)

    def _shades(self, branches):
        """A soft dark quad on the floor under each joint that is low at rest."""
        quads = [quad for branch in branches for quad in low_parts(branch)]
        if not quads:
            return None
        corners = np.concatenate([corners for corners, _ in quads])
        across = np.tile([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]], (len(quads), 1))
        joints = np.zeros((len(corners), 4))
        joints[:, 0] = np.repeat([joint for _, joint in quads], 4)
        triangles = np.concatenate([[[0, 1, 2], [0, 2, 3]] + np.array(4 * k) for k in range(len(quads))])
        own = _attributes(position=corners, normal=across, color=np.zeros_like(corners), joints=joints, shares=_whole(len(corners)))
        return self._plain(three.Mesh, own, triangles, "shade", -1)

    def _spots(self):
        """The marks of contact, each there while something stands on it."""
        if not self._baked.planted:
            return None
        corners, colours, spans, triangles, start = [], [], [], [], 0
        for one in self._baked.planted:
            outline = moments.outline(one)
            corners.append(outline)
            colours.append(np.tile(marks.rgb(words.SIDE_COLOUR[one.side]), (len(outline), 1)))
            spans.append(np.tile([one.start * self._baked.rate - 1e-3, one.end * self._baked.rate + 1e-3], (len(outline), 1)))
            triangles.append(moments.fan(len(outline)) + start)
            start += len(outline)
        corners = np.concatenate(corners)
        own = _attributes(
            position=corners,
            normal=np.zeros_like(corners),
            color=np.concatenate(colours),
            span=np.concatenate(spans),
            joints=np.zeros((start, 4)),
            shares=_whole(start),
        )
        return self._plain(three.Mesh, own, np.concatenate(triangles), "spot", 1)

    def _glyphs(self, joints):
        """A target where each of these joints is."""
        if not joints:
            return None
        count, rest = len(joints), self._baked.rest
        hanging = np.zeros((count, 4))
        hanging[:, 0] = joints
        colours = [marks.rgb(trails.COLOURS[k % len(trails.COLOURS)]) for k in range(count)]
        own = _attributes(
            position=rest[joints],
            normal=np.zeros((count, 3)),
            color=np.array(colours),
            joints=hanging,
            shares=_whole(count),
            glyph=np.tile([marks.SHAPES["target"], 16.0], (count, 1)),
        )
        return self._plain(three.Points, own, np.arange(count), "glyph", OVER + 1)

    def _plain(self, kind, own, triangles, look, order):
        own["index"] = three.BufferAttribute(array=np.asarray(triangles, dtype=np.uint32).ravel(), normalized=False)
        return self._made(kind, three.BufferGeometry(attributes=own), list(own.values()), look, order)


def hung(branch):
    """The joints (V, 4) of each corner of a branch and their weights (V, 4), which add up to one."""
    joints, weights = np.zeros((len(branch.points), 4)), np.zeros((len(branch.points), 4))
    for patch in branch.patches:
        shares = np.ones((patch.where.stop - patch.where.start, 1)) if len(patch.joints) == 1 else patch.weights
        best = np.argsort(-shares, axis=1, kind="stable")[:, :4]
        kept = np.take_along_axis(shares, best, axis=1)
        joints[patch.where, : best.shape[1]] = patch.joints[best]
        weights[patch.where, : best.shape[1]] = kept / kept.sum(axis=1, keepdims=True)
    return joints, weights


def low_parts(branch):
    """For each joint with corners near the floor at rest: the corners (4, 3) of a quad under them, and the joint's number."""
    joints, _ = hung(branch)
    main = joints[:, 0].astype(int)
    for joint in np.unique(main):
        low = branch.points[(main == joint) & (branch.points[:, 1] < LOW / 2)]
        if len(low):
            (left, _, back), (right, _, front) = low.min(axis=0), low.max(axis=0)
            middle, half = np.array([left + right, 0, back + front]) / 2, MARGIN * np.array([right - left, 0, front - back]) / 2
            yield middle + half * [[-1, 0, -1], [1, 0, -1], [1, 0, 1], [-1, 0, 1]], int(joint)


def _texture(baked):
    """All frames of a motion as numbers: a row a frame, for each joint the three rows of its matrix (3, 4)."""
    frames = np.concatenate([baked.turns, baked.moves[..., None]], axis=-1)
    data = frames.reshape(len(baked), 3 * len(baked.names), 4).astype(np.float32)
    return three.DataTexture(data=data, format="RGBAFormat", type="FloatType", magFilter="NearestFilter", minFilter="NearestFilter")


def close_all(*widgets):
    """Close widgets."""
    for widget in widgets:
        widget.close()


def _attributes(**arrays):
    return {name: _attribute(array) for name, array in arrays.items()}


def _attribute(array):
    return three.BufferAttribute(array=np.ascontiguousarray(array, dtype=np.float32), normalized=False)


def _whole(count):
    return np.tile([1.0, 0, 0, 0], (count, 1))
