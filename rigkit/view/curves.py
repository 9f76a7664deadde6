"""Values over time as a small picture beside the scene: curves with their unit, bars for what stands on the floor, a line at now.

The picture is SVG, so that it stays sharp, needs no script, and is the same in the notebook and in the book. Its ground and
colours are the scene's. While a motion plays, the browser itself moves the line; no message is sent for it.
"""

import html
from typing import NamedTuple

import numpy as np

from rigkit import words
from rigkit.view import marks
from rigkit.view.trails import COLOURS

WIDE, LEFT, RIGHT = 380, 46, 10  # of the picture, and of what stands left and right of its plot
PLOT, GAP, BAR = 84, 34, 15  # height of a plot, of what stands between two, of a bar
DASHES = ("", "7 4", "2 3")
INK, SOFT, GRID = "#ECECEC", "#AEB6BC", "#3A4147"  # words; lesser words; lines across a plot


class Chart(NamedTuple):
    """curves: label to values (N,), all of one unit, one at each of the times."""

    curves: dict
    unit: str


class Shown(NamedTuple):
    """Charts over times (N,) as they are shown: at the place `now`, over bars for what is `planted` (`rigkit.view.baked.Planted`)."""

    charts: list
    times: np.ndarray
    now: int
    planted: tuple = ()


def checked(curves, times, unit=""):
    """A Chart of curves {label: values (N,)} for times (N,), or a ValueError that says which does not fit."""
    found = {}
    for label, values in curves.items():
        values = np.asarray(values, dtype=float)
        if values.shape != (len(times),) or not np.isfinite(values).all():
            raise ValueError(f"curves[{label!r}] has shape {values.shape}; expected ({len(times)},) finite numbers, one for each time")
        found[label] = values
    return Chart(found, unit)


def rows(charts, times, now):
    """Rows of the number table: each curve's value at the place `now`, and its least and greatest."""
    found = []
    for chart in charts:
        for label, values in chart.curves.items():
            unit = f" {chart.unit}" if chart.unit else ""
            found.append((label, f"{_number(values[now])}{unit} at {times[now]:.2f} s; {_number(values.min())} to {_number(values.max())}"))
    return found


def svg(charts, times, now, planted=(), playing=None, title="Curves over time"):
    """The picture as SVG text. now: a place in times. planted: `rigkit.view.baked.Planted`.

    playing: (seconds from the first time to the last on the clock, again and again or not), while the line moves by itself.
    """
    labels = list(dict.fromkeys(one.label for one in planted))
    below = len(labels) * BAR + (10 if labels else 0)
    tall = len(charts) * (PLOT + GAP) + below + 24
    span = times[0], times[-1] if times[-1] > times[0] else times[0] + 1
    x = lambda t: LEFT + (WIDE - LEFT - RIGHT) * (np.asarray(t) - span[0]) / (span[1] - span[0])
    parts, dots = [], []
    for k, chart in enumerate(charts):
        drawn, marked = _plot(chart, times, now, x, k * (PLOT + GAP) + GAP - 6)
        parts.append(drawn)
        dots.append(marked)
    base = len(charts) * (PLOT + GAP) + 6
    parts.append(_bars(planted, labels, x, base))
    parts.append(_seconds(span, x, base + below + 4))
    line = f'<line x1="0" x2="0" y1="6" y2="{base + below - 4}" stroke="{INK}" stroke-width="1.5"/>'
    parts.append(_marker(line, "".join(dots), x, times, now, playing))
    told = html.escape(title + ": " + "; ".join(f"{label} {value}" for label, value in rows(charts, times, now)))
    return (
        f'<svg class="rigkit-curves" viewBox="0 0 {WIDE} {tall}" width="100%" style="max-width:{WIDE}px;display:block;border-radius:4px" '
        f'role="img" aria-label="{told}" data-left="{LEFT}" data-wide="{WIDE - LEFT - RIGHT}" font-family="system-ui, sans-serif" font-size="11">'
        f'<rect width="{WIDE}" height="{tall}" fill="{words.SCENE}"/>{"".join(parts)}</svg>'
    )


def _plot(chart, times, now, x, top):
    """One plot: (its lines and words, the dots at now)."""
    every = np.concatenate(list(chart.curves.values()))
    ticks = nice(every.min(), every.max())
    low, high = ticks[0], ticks[-1]
    y = lambda v: top + PLOT * (1 - (np.asarray(v) - low) / (high - low))
    parts = [
        f'<line x1="{LEFT}" x2="{WIDE - RIGHT}" y1="{y(t):.1f}" y2="{y(t):.1f}" stroke="{GRID}" stroke-width="1"/>'
        f'<text x="{LEFT - 5}" y="{y(t) + 4:.1f}" fill="{SOFT}" text-anchor="end">{_number(t)}</text>'
        for t in ticks
    ]
    dots, at = [], LEFT
    for i, (label, values) in enumerate(chart.curves.items()):
        colour, dash = COLOURS[i % len(COLOURS)], DASHES[i % len(DASHES)]
        points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x(times), y(values)))
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        parts.append(f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="2"{dashed}/>')
        parts.append(f'<line x1="{at}" x2="{at + 18}" y1="{top - 13}" y2="{top - 13}" stroke="{colour}" stroke-width="2"{dashed}/>')
        parts.append(f'<text x="{at + 22}" y="{top - 9}" fill="{INK}">{html.escape(label)}</text>')
        at += 34 + 6.1 * len(label)
        dots.append(
            f'<circle cx="{x(times[now]):.1f}" cy="{y(values[now]):.1f}" r="4" fill="{colour}" stroke="{words.SCENE}" stroke-width="1"/>'
        )
    parts.append(f'<text x="{WIDE - RIGHT}" y="{top - 9}" fill="{SOFT}" text-anchor="end">{html.escape(chart.unit)}</text>')
    return "".join(parts), "".join(dots)


def _bars(planted, labels, x, top):
    """A row for each label: a bar while it stands on the floor, solid on the left, hatched by gaps on the right."""
    parts = []
    for k, label in enumerate(labels):
        y, side = top + k * BAR, next(one.side for one in planted if one.label == label)
        parts.append(f'<text x="{LEFT - 5}" y="{y + 9}" fill="{SOFT}" text-anchor="end" font-size="9">{html.escape(_narrow(label))}</text>')
        for one in (one for one in planted if one.label == label):
            wide = max(float(x(one.end) - x(one.start)), 1)
            colour = words.SIDE_COLOUR[side]
            shape = f'<rect x="{x(one.start):.1f}" y="{y}" width="{wide:.1f}" height="{BAR - 5}" rx="2" stroke="{colour}" stroke-width="1.5" fill='
            parts.append(shape + (f'"{colour}"/>' if side == "left" else f'"{marks.mix(colour, words.SCENE, 0.7)}"/>'))
    return "".join(parts)


def _narrow(label):
    """ "left heel" as "L heel": a bar's label has little room, and the table says it in full."""
    side, _, rest = label.partition(" ")
    return f"{side[0].upper()} {rest}" if side in ("left", "right") and rest else label[:9]


def _seconds(span, x, y):
    ticks = [t for t in nice(*span) if span[0] - 1e-9 <= t <= span[1] + 1e-9]
    return "".join(
        f'<text x="{x(t):.1f}" y="{y + 8}" fill="{SOFT}" text-anchor="middle">{_number(t)}{" s" if t == ticks[-1] else ""}</text>'
        for t in ticks
    )


def _marker(line, dots, x, times, now, playing):
    """The line at now; while it plays the browser moves it, and the dots, which would lie, are left out."""
    if playing is None:
        return f'<g class="now" transform="translate({x(times[now]):.2f} 0)">{line}</g><g class="dots">{dots}</g>'
    seconds, again = playing
    begun = (times[now] - times[0]) / (times[-1] - times[0]) * seconds
    how = f'begin="-{begun:.3f}s" dur="{seconds:.3f}s" ' + ('repeatCount="indefinite"' if again else 'fill="freeze"')
    return f'<g class="now">{line}<animateTransform attributeName="transform" type="translate" from="{LEFT} 0" to="{WIDE - RIGHT} 0" {how}/></g>'


def nice(low, high, most=4):
    """Round numbers from at or below `low` to at or above `high`, at most `most` steps.

    >>> nice(3.0, 97.0)
    [0.0, 25.0, 50.0, 75.0, 100.0]
    """
    low, high = float(low), float(high)
    if high - low < 1e-9 * max(1.0, abs(low)):
        low, high = low - 0.5, high + 0.5
    rough = (high - low) / most
    power = 10.0 ** np.floor(np.log10(rough))
    for factor in (1, 2, 2.5, 5, 10, 20):
        step = factor * power
        first, last = np.floor(low / step + 1e-9), np.ceil(high / step - 1e-9)
        if last - first <= most:
            return [round(float(k * step), 9) + 0.0 for k in np.arange(first, last + 1)]
    raise AssertionError("twenty of the power below always do")


def _number(value):
    """Short: three digits that count.

    >>> _number(0.12345), _number(123.456), _number(-0.0)
    ('0.123', '123', '0')
    """
    return f"{float(value) + 0.0:.3g}" if abs(value) < 1000 else f"{value:.0f}"
