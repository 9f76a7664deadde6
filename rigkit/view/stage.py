"""The browser's side of a scene: what pythreejs draws, and the canvases it is drawn in.

A Stage holds one three-dimensional scene: floor, model, marks and two cameras
(perspective and parallel). What is looked at lies at the origin of the cameras, and the
content is shifted there: orbit controls start by turning to the origin whatever
they are told. Each Canvas is one picture of it on the page with
mouse controls of its own. Mouse events come back as a point on the ray of the
pixel; all picking is done in numpy from that ray, so no object here needs to be
pickable but one large box around everything.
"""

import ipywidgets
import numpy as np
import pythreejs as three

from rigkit import words
from rigkit.view import floor, marks, shaders
from rigkit.view.clip import Clip
from rigkit.view.eye import FAR, FIELD_OF_VIEW, Eye, height_for, looking
from rigkit.view.model import closed
from rigkit.view.page import Page, geometry
from rigkit.view.painter import Painter

WIDTH, HEIGHT = 640, 500
AROUND = 60.0  # metres, the edge of the box that catches every ray


class Stage:
    """Draw `branches` (rigkit.view.model.Branch) and layers of marks; tell `on_eye` when the view changed."""

    def __init__(self, branches, on_eye, on_mouse):
        self.size = (WIDTH, HEIGHT)
        self._on_eye, self._on_mouse, self._branches = on_eye, on_mouse, branches
        self._materials, self._plain = {"solid": shaders.lit(), "glass": shaders.glass(closed(branches)), "flat": shaders.flat()}, "solid"
        self.pages, self._meshes = {}, {}
        for branch in branches:
            page = Page(len(branch.points))
            page.add(branch.points, branch.normals, branch.colours)
            page.send_all()
            self.pages[branch.name] = page
            shape, _ = geometry(page, branch.triangles)
            self._meshes[branch.name] = three.Mesh(shape, self._materials["solid"], frustumCulled=False)
        self._marks_page = Page()
        self.painter = Painter(self._marks_page, self.size)
        self._floor = _Floor(branches)
        self._cameras = {True: _parallel_camera(), False: _perspective_camera()}
        self._catcher = three.Mesh(
            three.BoxBufferGeometry(AROUND, AROUND, AROUND), three.MeshBasicMaterial(visible=False, side="DoubleSide"), frustumCulled=False)
        self._over = three.Group(children=(self.painter.group,))
        self._content = three.Group(children=(*self._floor.objects, *self._meshes.values(), self._over))
        self.scene = three.Scene(background=words.SCENE, children=(self._content, *self._cameras.values(), self._catcher))
        self.canvases = []
        self.eye = looking("perspective", (0, 0.55, 0), 1.4)
        self._origin = self.eye.target
        self._following = None  # while a camera is being set from here, its echoes are not news
        for camera in self._cameras.values():
            camera.observe(self._camera_moved, names=["position", "zoom"])
        self._place_camera()

    # the view

    def look(self, eye):
        """Show the scene from `eye` in every canvas."""
        changed = eye.parallel != self.eye.parallel
        self.eye = eye
        self._place_camera()
        self._floor.seen_from(eye.metres_per_pixel(self.size))
        for canvas in self.canvases:
            canvas.aim()
            if changed:
                canvas.use(self._cameras[eye.parallel], eye.parallel)

    def _place_camera(self):
        eye, camera = self.eye, self._cameras[self.eye.parallel]
        self._following = camera
        self._origin = eye.target
        self._content.position = (-eye.target).tolist()
        with camera.hold_sync():
            if eye.parallel:
                half = eye.height / 2
                camera.left, camera.right = -half * WIDTH / HEIGHT, half * WIDTH / HEIGHT
                camera.top, camera.bottom = half, -half
            camera.zoom = 1.0
            camera.position = (eye.position - eye.target).tolist()
            camera.quaternion = eye.quaternion().tolist()
        self._following = None

    def _camera_moved(self, change):
        camera = change["owner"]
        if camera is self._following or camera is not self._cameras[self.eye.parallel]:
            return
        self._take_view(camera, None)

    def _take_view(self, camera, target):
        """The learner turned, moved or zoomed the view: work out the Eye it is now."""
        position = np.array(camera.position, dtype=float) + self._origin
        target = self.eye.target if target is None else np.array(target, dtype=float) + self._origin
        parallel = self.eye.parallel
        height = (camera.top - camera.bottom) / camera.zoom if parallel else height_for(np.linalg.norm(position - target))
        self.eye = Eye(position, target, float(height), parallel)
        self._floor.seen_from(self.eye.metres_per_pixel(self.size))
        self._on_eye()

    # the model

    def share(self, name):
        """Let marks be drawn from the page of branch `name`, so that both move in one message; None: from a page of their own."""
        page = self._marks_page if name is None else self.pages[name]
        if page is self.painter.page:
            return
        old, self.painter = self.painter, Painter(page, self.size)
        self._over.children = (self.painter.group,)
        old.close()
        old.page.cut(old.first)

    def move(self, name, points, normals, send=True):
        """Move a branch's corners; without `send` they go with the marks that share the page."""
        page = self.pages[name]
        page.write(slice(0, len(points)), points, normals)
        if send:
            page.send()

    def tint(self, name, colours):
        """Colour a branch's corners, (V, 3)."""
        page = self.pages[name]
        page.colours[: len(colours)] = colours
        page.send_colours()

    def begin(self, baked, tracked, heard):
        """Let the browser play a Baked motion; what the pages of the branches hold now is taken for the rest pose. Returns the Clip."""
        self.end()
        self.clip = Clip(baked, self._branches, self.pages, tracked, heard)
        self.clip.see_through(self._look)
        for mesh in self._meshes.values():
            mesh.visible = False
        self._content.children = (*self._content.children[:-1], self.clip.root, self._over)
        self.stand(np.zeros((0, 3)))
        return self.clip

    def end(self):
        """Show the model from its pages again."""
        if self.clip is None:
            return
        self._content.children = tuple(child for child in self._content.children if child is not self.clip.root)
        self.clip.close()
        self.clip = None
        for mesh in self._meshes.values():
            mesh.visible = True

    clip, _look = None, "solid"

    def see_through(self, on):
        """Draw the model as glass, or as a solid."""
        self._look = "glass" if on else self._plain
        if self.clip is not None:
            self.clip.see_through(self._look)
        for mesh in self._meshes.values():
            mesh.material, mesh.renderOrder = self._materials[self._look], 10 if on else 0

    def flat(self, on):
        """Whether a solid model is unlit, so that its colours stay what they are; `see_through` brings it to the screen."""
        self._plain = "flat" if on else "solid"

    def show_model(self, names):
        """Show only these branches."""
        for name, mesh in self._meshes.items():
            mesh.visible = name in names

    def stand(self, points):
        """Darken the floor under points (N, 3)."""
        self._floor.stand(points)

    # canvases

    def canvas(self):
        """One more picture of this scene."""
        self.look(self.eye)  # a fresh orbit starts at the middle of the picture
        made = Canvas(self)
        self.canvases.append(made)
        return made

    def drop(self, canvas):
        """Close one picture."""
        if canvas in self.canvases:
            self.canvases.remove(canvas)
            canvas.close()

    def listen(self, hover):
        """Whether mouse moves are wanted too (they cost a message each)."""
        for canvas in self.canvases:
            canvas.listen(hover)
        self.hover = hover

    hover = False

    def turning(self, on, everywhere=False):
        """Whether dragging turns the view in the canvas under the pointer, or in all of them."""
        for canvas in self.canvases:
            if everywhere or canvas is self._under:
                canvas.turning(on)

    def mouse(self, canvas, kind, seen):
        """A mouse event of a canvas."""
        self._under = canvas
        self._on_mouse(kind, seen + self._origin)

    _under = None

    def camera(self):
        """The camera in use."""
        return self._cameras[self.eye.parallel]

    def close(self):
        """Close every widget of the scene."""
        for canvas in self.canvases:
            canvas.close()
        self.end()
        self.painter.close()
        self._marks_page.close()
        for name, mesh in self._meshes.items():
            mesh.geometry.attributes["index"].close()
            mesh.geometry.close()
            mesh.close()
            self.pages[name].close()
        for material in self._materials.values():
            material.close()
        self._floor.close()
        catcher = self._catcher
        close_all(catcher.geometry, catcher.material, catcher, self._over, self._content, *self._cameras.values(), self.scene)


class Canvas:
    """One picture on the page: a renderer, orbit controls for each camera, and pickers for the mouse."""

    def __init__(self, stage):
        self._stage = stage
        camera = stage.camera()
        self._orbits = {parallel: _orbit(stage._cameras[parallel]) for parallel in (False, True)}
        self._pickers = {kind: _picker(stage._catcher, kind) for kind in ("mousedown", "mouseup", "mousemove", "mouseleave")}
        self.renderer = three.Renderer(
            stage.scene, camera, self._controls(), antialias=True, width=WIDTH, height=HEIGHT,
            layout=ipywidgets.Layout(width=f"{WIDTH}px", height=f"{HEIGHT}px", overflow="hidden"))
        self.renderer.add_class("rigkit-scene")
        for kind, picker in self._pickers.items():
            picker.observe(lambda change, kind=kind: self._picked(kind, change["new"]), names="point")
        for orbit in self._orbits.values():
            orbit.observe(self._panned, names="target")

    def _controls(self):
        wanted = ("mousedown", "mouseup", *(("mousemove", "mouseleave") if self._stage.hover else ()))
        return [self._orbits[self._stage.eye.parallel], *(self._pickers[kind] for kind in wanted)]

    def use(self, camera, parallel):
        """Look through another camera."""
        self.renderer.camera = camera
        self.renderer.controls = self._controls()

    def listen(self, hover):
        """Report mouse moves too."""
        self.renderer.controls = self._controls()

    def aim(self):
        """Turn about the middle of the picture again."""
        self._aiming = True
        for orbit in self._orbits.values():
            orbit.target = [0.0, 0.0, 0.0]
        self._aiming = False

    _aiming = False

    def turning(self, on):
        """Whether dragging turns the view. By its speed, so that it can begin after the press: an orbit that is off at the press stays off."""
        self._orbits[self._stage.eye.parallel].rotateSpeed = float(on)

    def _panned(self, change):
        if not self._aiming and change["owner"] is self._orbits[self._stage.eye.parallel]:
            self._stage._take_view(self._stage.camera(), change["new"])

    def _picked(self, kind, point):
        if point[0] == NOWHERE:
            return
        self._stage.mouse(self, kind, np.array(point, dtype=float))
        if kind != "mousemove":
            self._pickers[kind].point = [NOWHERE, 0, 0]  # the same pixel again must be news again

    def close(self):
        """Close every widget of this canvas."""
        close_all(*self._pickers.values(), *self._orbits.values(), self.renderer.layout, self.renderer.shadowMap, self.renderer)


NOWHERE = 12345.0  # a place no ray meets


class _Floor:
    """Grid lines and the picture of the ground."""

    def __init__(self, branches):
        ends, colours = floor.grid()
        place = three.BufferAttribute(array=ends.reshape(-1, 3).astype(np.float32), normalized=False)
        tint = three.BufferAttribute(array=np.repeat(colours, 2, axis=0).astype(np.float32), normalized=False)
        lines = three.LineSegments(
            three.BufferGeometry(attributes={"position": place, "color": tint}),
            three.LineBasicMaterial(vertexColors="VertexColors", transparent=True, opacity=0.9, depthWrite=False), frustumCulled=False, renderOrder=-1)
        low = np.concatenate([b.points for b in branches]) if branches else np.zeros((0, 3))
        self.texture = three.DataTexture(
            data=floor.ground(low), format="RGBAFormat", type="UnsignedByteType", magFilter="LinearFilter", minFilter="LinearFilter")
        r = floor.REACH
        corners = np.array([[-r, 0, -r], [r, 0, -r], [r, 0, r], [-r, 0, r]], np.float32)
        ground = three.Mesh(
            three.BufferGeometry(attributes={
                "position": three.BufferAttribute(array=corners, normalized=False),
                "uv": three.BufferAttribute(array=np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32), normalized=False),
                "index": three.BufferAttribute(array=np.array([0, 2, 1, 0, 3, 2], np.uint32), normalized=False)}),
            three.MeshBasicMaterial(map=self.texture, transparent=True, depthWrite=False, side="DoubleSide"), frustumCulled=False, renderOrder=-2)
        self._drawn, self._thin = marks.joined([floor.lines()], "strokes"), 1.0
        drawn = self._drawn
        self._axes = three.BufferAttribute(array=self._corners(), normalized=False)
        rows = (8 * np.arange(len(drawn.starts))[:, None, None] + marks.PRISM_TRIANGLES).astype(np.uint32).ravel()
        axes = three.Mesh(
            three.BufferGeometry(attributes={
                "position": self._axes,
                "color": three.BufferAttribute(array=np.repeat(drawn.colours, 8, axis=0).astype(np.float32), normalized=False),
                "index": three.BufferAttribute(array=rows, normalized=False)}),
            three.MeshBasicMaterial(vertexColors="VertexColors", side="DoubleSide"), frustumCulled=False)
        self.objects = (ground, lines, axes)

    def _corners(self):
        return marks.prisms(self._drawn, self._thin).reshape(-1, 3).astype(np.float32)

    def seen_from(self, metres_per_pixel):
        """Thin the axes in a close view; sent only where it can be noticed."""
        thin = floor.thinned(metres_per_pixel)
        if abs(thin / self._thin - 1) > 0.05:
            self._thin = thin
            self._axes.array = self._corners()

    def stand(self, points):
        self.texture.data = floor.ground(points)

    def close(self):
        for thing in self.objects:
            close_all(*thing.geometry.attributes.values(), thing.geometry, thing.material, thing)
        self.texture.close()


def close_all(*widgets):
    """Close widgets."""
    for widget in widgets:
        widget.close()


def _perspective_camera():
    return three.PerspectiveCamera(fov=FIELD_OF_VIEW, aspect=WIDTH / HEIGHT, near=0.02, far=100.0)


def _parallel_camera():
    return three.OrthographicCamera(left=-1, right=1, top=1, bottom=-1, near=0.01, far=2 * FAR + AROUND)


def _orbit(camera):
    return three.OrbitControls(controlling=camera, minDistance=0.05, maxDistance=20.0, minZoom=0.02, maxZoom=60.0)


def _picker(catcher, event):
    return three.Picker(controlling=catcher, event=event)
