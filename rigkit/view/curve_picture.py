"""Curves over time as part of a still picture: the plots of `curves.svg`, drawn by matplotlib in the same colours, to stand below the scene."""

import numpy as np

from rigkit import words
from rigkit.view import curves
from rigkit.view.trails import COLOURS

PLOT, BARS, LEFT, RIGHT = 120, 18, 62, 14  # pixels: of a plot from top to top, of a row of bars; what stands left and right
DASHES = ("solid", (0, (5, 3)), (0, (1.5, 2)))


def below(ground, shown):
    """A picture (H, W, 3), numbers from 0 to 1, with the curves of a `curves.Shown` below it."""
    return np.concatenate([ground, draw(shown, ground.shape[1])])


def draw(shown, wide):
    """The curves alone, (H, wide, 3), numbers from 0 to 1."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    labels = list(dict.fromkeys(one.label for one in shown.planted))
    tall = PLOT * len(shown.charts) + (BARS * len(labels) + 8 if labels else 0) + 30
    figure = Figure(figsize=(wide / 100, tall / 100), dpi=100, facecolor=words.SCENE)
    for k, chart in enumerate(shown.charts):
        axes = _axes(figure, shown, (PLOT * k + 24, PLOT - 42), wide, tall)
        for i, (label, values) in enumerate(chart.curves.items()):
            colour = COLOURS[i % len(COLOURS)]
            axes.plot(shown.times, values, color=colour, linestyle=DASHES[i % len(DASHES)], linewidth=1.4, label=label)
            axes.plot(shown.times[shown.now], values[shown.now], "o", color=colour, markersize=4)
        every = np.concatenate(list(chart.curves.values()))
        ticks = curves.nice(every.min(), every.max())
        axes.set(ylim=(ticks[0], ticks[-1]), yticks=ticks)
        axes.set_title(chart.unit, loc="right", fontsize=8, color=curves.SOFT, pad=4)
        axes.legend(loc="lower left", bbox_to_anchor=(0, 1), ncols=4, fontsize=8, labelcolor=curves.INK, frameon=False, borderaxespad=0.2)
        axes.grid(axis="y", color=curves.GRID, linewidth=0.7)
    if labels:
        axes = _axes(figure, shown, (PLOT * len(shown.charts) + 8, BARS * len(labels)), wide, tall)
        for one in shown.planted:
            colour = words.SIDE_COLOUR[one.side]
            face = colour if one.side == "left" else words.SCENE
            axes.broken_barh([(one.start, one.end - one.start)], (labels.index(one.label) - 0.3, 0.6), facecolor=face, edgecolor=colour)
        axes.set(ylim=(len(labels) - 0.4, -0.6), yticks=range(len(labels)), yticklabels=labels)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())[..., :3] / 255.0


def _axes(figure, shown, rows, wide, tall):
    """Axes over some rows of pixels, (first, how many) from the top, with the line at now."""
    axes = figure.add_axes((LEFT / wide, 1 - (rows[0] + rows[1]) / tall, (wide - LEFT - RIGHT) / wide, rows[1] / tall), facecolor=words.SCENE)
    for side in axes.spines.values():
        side.set_visible(False)
    first, last = float(shown.times[0]), float(shown.times[-1])
    axes.set(xlim=(first, last if last > first else first + 1))
    axes.tick_params(colors=curves.SOFT, labelsize=7, length=0)
    axes.axvline(shown.times[shown.now], color=curves.INK, linewidth=1)
    axes.xaxis.set_major_formatter(lambda seconds, _: f"{seconds:g} s")
    return axes
