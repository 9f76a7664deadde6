"""The same scene as a still picture: triangles from far to near, then lines, glyphs and words over them.

Drawn with matplotlib, without WebGL: for pages that run no scripts, for files,
and for the place of a scene in a notebook that is not running.
"""

import io

import numpy as np

from rigkit import words
from rigkit.view import floor, marks

_MARKER = {0: "o", 1: "s", 2: "D", 3: "$\u2295$", 4: "^", 5: "o", 6: "x"}
_KEY = np.array([0.45, 0.75, 0.75]) / np.linalg.norm([0.45, 0.75, 0.75])


def draw(eye, surfaces, layers, size=(640, 500), see_through=False):
    """PNG bytes of the scene. surfaces: (points (V, 3), triangles (T, 3), colours (V, 3)) each."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(size[0] / 100, size[1] / 100), dpi=100, facecolor=words.SCENE)
    axes = figure.add_axes((0, 0, 1, 1), xlim=(0, size[0]), ylim=(size[1], 0), facecolor=words.SCENE)
    axes.axis("off")
    _draw_grid(axes, eye, size)
    _draw_surfaces(axes, eye, surfaces, size, see_through)
    for kind, paint in (("strokes", _draw_strokes), ("glyphs", _draw_glyphs)):
        joined = marks.joined(layers, kind)
        if joined is not None:
            paint(axes, eye, joined, size)
    _draw_words(axes, eye, [w for layer in layers for w in layer.words], size)
    out = io.BytesIO()
    FigureCanvasAgg(figure).print_png(out)
    return out.getvalue()


def _draw_grid(axes, eye, size):
    ends, colours = floor.grid()
    _draw_lines(axes, eye.pixels(ends, size), colours, np.full(len(ends), 0.8))


def _draw_lines(axes, seen, colours, widths):
    from matplotlib.collections import LineCollection

    shown = (seen[..., 2] > 0).all(axis=1)
    axes.add_collection(LineCollection(seen[shown, :, :2], colors=colours[shown], linewidths=widths[shown] * 0.72, capstyle="round"))


def _draw_surfaces(axes, eye, surfaces, size, see_through):
    from matplotlib.collections import PolyCollection

    if not surfaces:
        return
    corners = np.concatenate([points[triangles] for points, triangles, _ in surfaces])
    tints = np.concatenate([colours[triangles[:, 0]] for _, triangles, colours in surfaces])
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
    towards = normal @ eye.back if eye.parallel else np.einsum("ti,ti->t", normal, eye.position - corners.mean(axis=1))
    shown = np.ones(len(corners), bool) if see_through else towards > 0
    seen = eye.pixels(corners[shown], size)
    order = np.argsort(-seen[:, :, 2].mean(axis=1))
    light = 0.30 + 0.75 * np.clip(normal[shown] @ _KEY, 0, 1) + 0.18 * np.clip(normal[shown] @ np.array([-0.8, 0.15, 0.5]), 0, 1)
    colours = np.clip(tints[shown] * light[:, None], 0, 1)
    if see_through:
        colours = np.column_stack([0.6 * colours + 0.3, np.full(len(colours), 0.07)])
    faces = PolyCollection(seen[order][:, :, :2], facecolors=colours[order], linewidths=0 if see_through else 0.35)
    if not see_through:
        faces.set_edgecolor(colours[order])
    axes.add_collection(faces)


def _draw_strokes(axes, eye, strokes, size):
    seen = eye.pixels(np.stack([strokes.starts, strokes.ends], axis=1), size)
    _draw_lines(axes, seen, strokes.colours, strokes.widths.mean(axis=1))


def _draw_glyphs(axes, eye, glyphs, size):
    seen = eye.pixels(glyphs.points, size)
    for shape in np.unique(glyphs.shapes):
        rows = (glyphs.shapes == shape) & (seen[:, 2] > 0)
        hollow = shape in (marks.SHAPES["ring"], marks.SHAPES["cross"])
        axes.scatter(
            seen[rows, 0], seen[rows, 1], s=(glyphs.sizes[rows] * 0.72) ** 2, marker=_MARKER[int(shape)], zorder=5, linewidths=1.6 if hollow else 0.8,
            facecolors="none" if shape == marks.SHAPES["ring"] else glyphs.colours[rows], edgecolors=glyphs.colours[rows] if hollow else "#0A0A0A")


def _draw_words(axes, eye, told, size):
    for word in told:
        x, y, depth = eye.pixels(np.array(word.point), size)
        if depth > 0 and 0 <= x <= size[0] and 0 <= y <= size[1]:
            axes.text(x + word.offset[0], y - word.offset[1], word.text, color=word.colour, fontsize=word.size * 0.72, ha="center", va="center",
                      family="monospace", zorder=6, bbox={"facecolor": "#0E0E0E", "alpha": 0.6, "edgecolor": "none", "boxstyle": "round,pad=0.2"})
