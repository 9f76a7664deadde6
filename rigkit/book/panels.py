"""What can be moved in a scene, as data for a page.

- A *limb* is solved on the page, by the same formula; whether a cell's solver is that
  formula is tried out first.
- *Places* for joints need only the loops' centres.
- A joint's *turn* is computed on the page where it is a product of turns (`turning`),
  and so are the bends of chains where they are forward kinematics (`chains`).
- A *motion* is frames at even times, and an audit's *findings* are places to look at (`moving`).
- Everything else that has sliders or choices is a *table*: each setting on a grid is
  set here, and what the viewer shows is written down. A setting on the page is
  exactly what Python said, never something between; so where there are several
  sliders their steps are coarser than in the notebook, and the page says so.
"""

from itertools import product
from math import ceil, floor, prod

import ipywidgets
import numpy as np

from rigkit import limb, words
from rigkit.book import chains, figures, moving, turning
from rigkit.view.findings_panel import FindingsPanel
from rigkit.view.limb_panel import LimbPanel
from rigkit.view.motion_panel import MotionPanel
from rigkit.view.pieces import note
from rigkit.view.place_panel import PlacePanel
from rigkit.view.pose_panel import PosePanel
from rigkit.view.slider_panel import SliderPanel
from rigkit.view.turn_panel import TurnPanel

NODES = 400  # settings in a table, at most
COARSER = (1, 2, 3, 5, 10, 15, 20, 30, 45, 60, 90, 180)
TRIES = 24  # of a solver, to tell whether it is the formula
SAME = 1e-6  # metres
CHOICES = (ipywidgets.Dropdown, ipywidgets.ToggleButtons, ipywidgets.RadioButtons, ipywidgets.Select, ipywidgets.Checkbox)


def described(viewer, pool):
    """The panel of a Recorder as plain data; None where there is nothing to move."""
    panel = viewer.panel
    if panel is None:
        return None
    if isinstance(panel, LimbPanel):
        return _limb(viewer, panel, pool) if is_formula(panel) else {"kind": "none", "note": "This solver runs in the notebook only."}
    if isinstance(panel, PlacePanel):
        return _places(viewer, panel, pool)
    if isinstance(panel, MotionPanel):
        return moving.motion(viewer, panel, pool, _written)
    if isinstance(panel, FindingsPanel):
        from rigkit.book.scenes import eye

        return moving.findings(viewer, panel, pool, eye)
    if isinstance(panel, TurnPanel):
        made = turning.described(viewer, panel, pool, [pool.put(one) for one in _written(viewer.layers(own=False))])
        if made is not None:
            return made | {"rows": pool.put([list(row) for row in _rest_rows(viewer)])}
    if isinstance(panel, SliderPanel):
        made = chains.described(viewer, panel, pool)
        if made is not None:
            return made
    dials = _dials(panel.widget)
    if not dials:
        return {"kind": "none", "note": "What can be moved here works in the notebook only."}
    return _table(viewer, panel, dials, pool)


# limb


def is_formula(panel):
    """Whether a limb panel's solver gives what `rigkit.limb.solve` gives, and its expected one too where it has one."""
    reach = float(np.linalg.norm(np.diff(panel.rest, axis=0), axis=1).sum())
    rng = np.random.default_rng(6)
    for solve in filter(None, (panel._solve, panel._expected)):
        for target, pole in panel.rest[0] + rng.uniform(-1.2, 1.2, (TRIES, 2, 3)) * reach:
            right = limb.solve(*panel.rest, target, pole)
            try:
                told = solve(*panel.rest.copy(), target.copy(), pole.copy())
                off = np.abs([np.subtract(told.mid, right.mid), np.subtract(told.end, right.end)]).max()
            except Exception:  # the cell's own function: whatever stops it, it is not the formula
                return False
            if not off < SAME:
                return False
    return True


def _limb(viewer, panel, pool):
    skeleton, chain = getattr(viewer.character, "skeleton", None), panel._chain
    return {
        "kind": "limb", "note": "Drag the target or the pole in the picture, or use the sliders.",
        "rest": panel.rest.round(9).ravel().tolist(), "target": panel.target.round(9).tolist(), "pole": panel.pole.round(9).tolist(),
        "began": panel._pole_began.round(9).tolist(), "names": [panel._mid, panel._end],
        "side": words.side(skeleton.names[chain[1]]) if chain else "left", "expected": panel._expected is not None,
        "owners": pool.put(_owners(viewer.figure, skeleton, chain) if chain else []),
        "marks": [pool.put(one) for one in _written(viewer.layers(own=False))], "rows": pool.put([list(row) for row in _rest_rows(viewer)])}


def _owners(figure, skeleton, chain):
    """For each slot the joint of the chain that carries it, 0 to 2, or -1."""
    owner = np.full(len(skeleton.names), -1)
    for joint, parent in enumerate(skeleton.parents):  # parents come first
        owner[joint] = chain.index(joint) if joint in chain else owner[parent] if parent >= 0 else -1
    return [int(owner[joint]) for *_, joint in figures.slots(figure)]


def _rest_rows(viewer):
    """The rows of the number table that are not the panel's."""
    own = [tuple(row) for row in viewer.panel.numbers()]
    return [row for row in viewer._all_rows() if tuple(row) not in own]


def _written(layers):
    from rigkit.book.scenes import layer

    return [layer(one) for one in layers]


# places


def _places(viewer, panel, pool):
    place = panel.placement
    return {
        "kind": "place", "note": "Choose a joint, then a loop; or click in the picture near a loop's centre. A click elsewhere places nothing here.",
        "names": place.names, "labels": place.labels, "centres": pool.put(place.centres.round(6).ravel().tolist()),
        "loops": pool.put([points.round(5).ravel().tolist() for points in place.loops.values()]),
        "places": {name: None if p is None else p.round(6).tolist() for name, p in place.places.items()},
        "marks": [pool.put(one) for one in _written([*viewer.layers(own=False), panel.layer()])], "rows": pool.put([list(row) for row in _rest_rows(viewer)])}


# tables


def _dials(widget):
    """The widgets of a panel that a learner sets, in order."""
    if isinstance(widget, (ipywidgets.FloatSlider, ipywidgets.IntSlider, *CHOICES)):
        return [widget]
    return [dial for child in getattr(widget, "children", ()) for dial in _dials(child)]


def grids(dials):
    """The settings to try of each dial: numbers on its grid that hold 0 where its range does, or all choices."""
    spans = [(float(dial.min), float(dial.max), float(dial.step)) for dial in dials if not isinstance(dial, CHOICES)]
    fixed = prod(len(_options(dial)) for dial in dials if isinstance(dial, CHOICES))
    factor = next((f for f in COARSER if fixed * prod(_count(low, high, step * f) for low, high, step in spans) <= NODES), None)
    if factor is None:
        return None
    return [_options(dial) if isinstance(dial, CHOICES) else _grid(float(dial.min), float(dial.max), float(dial.step) * factor) for dial in dials]


def _options(dial):
    return [False, True] if isinstance(dial, ipywidgets.Checkbox) else [value for _, value in dial._options_full]


def _count(low, high, step):
    return len(_grid(low, high, step))


def _grid(low, high, step):
    first, last = ceil(round(low / step, 6)), floor(round(high / step, 6))
    return [round(step * k, 9) for k in range(first, last + 1)] or [low]


def _table(viewer, panel, dials, pool):
    tried = grids(dials)
    if tried is None:
        return {"kind": "none", "note": f"There are more than {NODES} settings here: what can be moved works in the notebook only."}
    before, told = [dial.value for dial in dials], viewer._status_text
    states = []
    for setting in product(*tried):
        for dial, value in zip(dials, setting):
            if dial.value != value:
                dial.value = value
        states.append(viewer.state(pool))
    for dial, value in zip(dials, before):
        dial.value = value
    viewer.say(told)
    described = [_dial(dial, settings, value) for dial, settings, value in zip(dials, tried, before)]
    return {"kind": "table", "note": _note(panel, dials, tried), "dials": described, "states": states}


def _dial(dial, settings, value):
    """A dial as the page shows it; `at` is the number of the setting nearest to where it stands."""
    if isinstance(dial, CHOICES):
        labels = ["off", "on"] if isinstance(dial, ipywidgets.Checkbox) else [label for label, _ in dial._options_full]
        return {"label": dial.description, "options": labels, "at": settings.index(value)}
    return {"label": dial.description, "values": settings, "at": int(np.argmin(np.abs(np.array(settings) - value))), "told": dial.tooltip or dial.description}


def _note(panel, dials, tried):
    """What the panel says above its sliders, and how much coarser than in the notebook they are."""
    said = [_plain(child.value) for child in getattr(panel.widget, "children", ()) if type(child) is type(note(""))]
    if isinstance(panel, PosePanel):  # there is nothing to drag on a page
        said = [f"Each slider is one number of the {panel.rigged.picked.replace('_', ' ')}."]
    steps = [(settings[1] - settings[0], float(dial.step)) for dial, settings in zip(dials, tried) if not isinstance(dial, CHOICES) and len(settings) > 1]
    if any(here > there + 1e-9 for here, there in steps):
        said.append(f"Here in steps of {steps[0][0]:g}; in the notebook in steps of {steps[0][1]:g}.")
    return " ".join(said)


def _plain(markup):
    import html
    import re

    return html.unescape(re.sub(r"<[^>]+>", "", markup))
