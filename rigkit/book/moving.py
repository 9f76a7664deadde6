"""A motion panel and an audit's findings as data for a page.

A motion is frames at even times, one matrix for each way to move that there is (joints that move alike share one), with what Python
said and counted at each frame. Findings are settings of a list, each with the eye that looks at its place. A motion that a
function draws is a table: every frame as the function drew it, to be stepped through.
"""

import base64

import numpy as np

from rigkit import words
from rigkit.book import figures
from rigkit.view import marks, moments, trails
from rigkit.view.baked import Timed

FRAMES = 400  # of a motion by a function, at most


def motion(viewer, panel, pool, written):
    """A MotionPanel as plain data. written(layers): layers as data."""
    before, told = panel.frame, viewer.said
    if isinstance(panel.baked, Timed):
        made = _by_function(viewer, panel, pool)
    else:
        made = _baked(viewer, panel, pool, written)
    panel.go(before)
    viewer.say(told)
    return made


def _baked(viewer, panel, pool, written):
    baked, before = panel.baked, panel.frame
    kinds, of = alike(np.concatenate([baked.turns, baked.moves[..., None]], axis=-1).reshape(len(baked), len(baked.names), 12))
    rows, said, own = [], [], viewer.rows_beside_panel()
    for frame in range(len(baked)):
        panel.frame = frame
        rows.append([list(row) for row in [*own, *panel.numbers()]])
        said.append(baked.told(frame))
    panel.frame = before
    drawn = [
        *viewer.layers(own=False),
        moments.contact_outlines(baked),
        moments.trail_layer(baked, panel.trails, 3) if panel.trails else marks.Layer(),
    ]
    spots = [_spot(one, written) for one in baked.planted]
    tracked = [baked.names.index(name) for name in panel.trails]
    return {
        "kind": "motion",
        "note": "Press Play, or move the slider; the buttons beside it go from frame to frame.",
        "length": baked.length,
        "joints": len(kinds[0]),
        "owners": pool.put([int(of[joint]) for *_, joint in figures.slots(viewer.figure)]),
        "frames": base64.b64encode(kinds.astype("<f4").tobytes()).decode("ascii"),
        "phases": [],
        "at": panel.frame,
        "loop": panel.loop,
        "marks": [pool.put(one) for one in written(drawn)],
        "spots": spots,
        "dots": [[int(of[j]), figures.digits(baked.rest[j]), trails.COLOURS[k % len(trails.COLOURS)]] for k, j in enumerate(tracked)],
        "chart": panel.chart() if panel.charts or baked.planted else "",
        "rows": [pool.put(one) for one in rows],
        "said": said,
    }


def alike(frames):
    """Ways to move (F, U, 12) and, for each of the joints (F, J, 12), the number of its own (J,)."""
    flat = np.round(np.swapaxes(frames, 0, 1).reshape(frames.shape[1], -1), 7) + 0.0
    kinds, of = np.unique(flat, axis=0, return_inverse=True)
    return np.swapaxes(kinds.reshape(len(kinds), len(frames), 12), 0, 1), np.ravel(of)


def _spot(planted, written):
    corners = moments.outline(planted)
    sheet = marks.Sheet(corners, moments.fan(len(corners)), words.SIDE_COLOUR[planted.side], moments.FILLED)
    return [written([marks.Layer(sheets=(sheet,))])[0]["sheets"][0], round(planted.start, 6), round(planted.end, 6)]


def _by_function(viewer, panel, pool):
    frames = range(0, len(panel.baked), -(-len(panel.baked) // FRAMES))
    states = []
    for frame in frames:
        panel.go(frame)
        states.append(viewer.state(pool))
    dial = {"label": "frame", "values": [float(frame) for frame in frames], "at": 0, "told": "frame of the motion"}
    return {"kind": "table", "note": "Move the slider; here each frame is as the notebook drew it.", "dials": [dial], "states": states}


def findings(viewer, panel, pool, eye):
    """A FindingsPanel as plain data. eye(Eye): an eye as data."""
    if not panel.found:
        return {"kind": "none", "note": panel.told()}
    before, states = panel.at, []
    for number in range(len(panel.found)):
        panel.go(number)
        states.append(viewer.state(pool) | {"eye": eye(viewer.eye)})
    panel.go(before)
    dial = {"label": "findings", "options": [text for text, _ in panel._list.options], "at": before, "rows": 8}
    note = "Choose a finding: the eye turns to its place. The arrow keys go from one to the next."
    return {"kind": "table", "note": note, "dials": [dial], "states": states}
