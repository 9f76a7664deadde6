"""The same scene as a still picture: floor, triangles, then lines, glyphs and words over them.

Drawn with numpy and matplotlib, without WebGL: for pages that run no scripts, for
files, and for the place of a scene in a notebook that is not running.
"""

import io

import numpy as np

from rigkit import words
from rigkit.view import curve_picture, floor, marks, raster

PLATE, OPAQUE = "#0A0A0A", 0.95  # behind words: they keep 4.5:1 (WCAG 2.2, 1.4.3) over white too
_MARKER = {0: "o", 1: "s", 2: "D", 3: "$\u2295$", 4: "^", 5: "o", 6: "x"}


def draw(eye, surfaces, layers, size=(640, 500), look="solid", fine=2, charts=()):
    """PNG bytes of the scene. surfaces: (points, normals, colours (V, 3), triangles (T, 3)) each.

    look: "solid", "glass" or "flat" (unlit). Each pixel of the model is the mean of fine x fine. charts: `rigkit.view.curves.Shown`, drawn below.
    """
    ground = _ground(eye, surfaces, size)
    if surfaces:
        ground = raster.paint(ground, eye, *_joined(surfaces), look, fine)
    figure, axes = _page(ground, size)
    _draw_sheets(axes, eye, [s for layer in layers for s in layer.sheets], size)
    for kind, paint in (("strokes", _draw_strokes), ("glyphs", _draw_glyphs)):
        joined = marks.joined(layers, kind)
        if joined is not None:
            paint(axes, eye, joined, size)
    _draw_words(axes, eye, [w for layer in layers for w in layer.words], size)
    return _png(figure, charts)


def _page(ground, size):
    from matplotlib.figure import Figure

    figure = Figure(figsize=(size[0] / 100, size[1] / 100), dpi=100, facecolor=words.SCENE)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.axis("off")
    if ground is not None:
        axes.imshow(ground, extent=(0, size[0], size[1], 0), interpolation="none", aspect="auto")
    axes.set(xlim=(0, size[0]), ylim=(size[1], 0))
    return figure, axes


def _png(figure, charts):
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.image import imsave

    canvas, out = FigureCanvasAgg(figure), io.BytesIO()
    if not charts:
        canvas.print_png(out)
        return out.getvalue()
    canvas.draw()
    shown = np.asarray(canvas.buffer_rgba())[..., :3] / 255.0
    for chart in charts:
        shown = curve_picture.below(shown, chart)
    imsave(out, np.clip(shown, 0, 1), format="png")
    return out.getvalue()


def _ground(eye, surfaces, size):
    """The floor as an array (H, W, 3): a pool of light, contact under what stands on it, the grid, the axes."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure, axes = _page(None, size)
    _draw_pool(axes, eye, surfaces, size)
    ends, colours = floor.grid()
    _draw_lines(axes, eye.pixels(ends, size), colours, np.full(len(ends), 0.8))
    drawn, step = marks.joined([floor.lines()], "strokes"), eye.metres_per_pixel(size)
    seen = eye.pixels(np.stack([drawn.starts, drawn.ends], axis=1), size)
    _draw_lines(axes, seen, drawn.colours, np.maximum(drawn.widths.mean(axis=1) * floor.thinned(step) / step, 1.2))
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())[..., :3] / 255.0


def _draw_pool(axes, eye, surfaces, size):
    """The ground's picture as small tiles."""
    from matplotlib.collections import PolyCollection

    points = np.concatenate([s[0] for s in surfaces]) if surfaces else np.zeros((0, 3))
    shown = floor.ground(points)[::2, ::2].astype(float) / 255
    at = np.linspace(-floor.REACH, floor.REACH, len(shown) + 1)
    z, x = np.meshgrid(at, at, indexing="ij")
    seen = eye.pixels(np.stack([x, np.zeros_like(x), z], axis=-1), size)
    tiles = np.stack([seen[:-1, :-1], seen[:-1, 1:], seen[1:, 1:], seen[1:, :-1]], axis=2).reshape(-1, 4, 3)
    visible = (tiles[..., 2] > 0).all(axis=1) & (shown[..., 3].ravel() > 0.01)
    axes.add_collection(PolyCollection(tiles[visible][:, :, :2], facecolors=shown.reshape(-1, 4)[visible], linewidths=0, antialiaseds=False))


def _joined(surfaces):
    """All surfaces as one: points, normals, colours, triangles."""
    starts = np.cumsum([0, *(len(s[0]) for s in surfaces[:-1])])
    return (*(np.concatenate([s[k] for s in surfaces]) for k in range(3)), np.concatenate([s[3] + at for s, at in zip(surfaces, starts)]))


def _draw_lines(axes, seen, colours, widths):
    from matplotlib.collections import LineCollection

    shown = (seen[..., 2] > 0).all(axis=1)
    axes.add_collection(LineCollection(seen[shown, :, :2], colors=colours[shown], linewidths=widths[shown] * 0.72, capstyle="round"))


def _draw_sheets(axes, eye, sheets, size):
    from matplotlib.collections import PolyCollection

    for sheet in sheets:
        seen = eye.pixels(sheet.vertices, size)[sheet.triangles]
        shown = (seen[..., 2] > 0).all(axis=1)
        axes.add_collection(PolyCollection(seen[shown][..., :2], facecolors=sheet.colour, alpha=sheet.opacity, linewidths=0))


def _draw_strokes(axes, eye, strokes, size):
    seen = eye.pixels(np.stack([strokes.starts, strokes.ends], axis=1), size)
    _draw_lines(axes, seen, strokes.colours, strokes.widths.mean(axis=1))


def _draw_glyphs(axes, eye, glyphs, size):
    seen = eye.pixels(glyphs.points, size)
    for shape in np.unique(glyphs.shapes):
        rows = (glyphs.shapes == shape) & (seen[:, 2] > 0)
        ring, cross = shape == marks.SHAPES["ring"], shape == marks.SHAPES["cross"]
        axes.scatter(
            seen[rows, 0], seen[rows, 1], s=(glyphs.sizes[rows] * 0.72) ** 2, marker=_MARKER[int(shape)], zorder=5, linewidths=1.6 if ring or cross else 0.8,
            facecolors="none" if ring else glyphs.colours[rows], edgecolors=glyphs.colours[rows] if ring else None if cross else "#0A0A0A")


def _draw_words(axes, eye, told, size):
    for word in told:
        x, y, depth = eye.pixels(np.array(word.point), size)
        if depth > 0 and 0 <= x <= size[0] and 0 <= y <= size[1]:
            axes.text(x + word.offset[0], y - word.offset[1], word.text, color=word.colour, fontsize=word.size * 0.72, ha="center", va="center",
                      family="monospace", zorder=6, bbox={"facecolor": PLATE, "alpha": OPAQUE, "edgecolor": "none", "boxstyle": "round,pad=0.2"})
