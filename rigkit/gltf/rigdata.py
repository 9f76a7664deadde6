"""Our own data in a document's extras, under the key "rigkit": controls, links, motions, and what a Character has beside them.

    "rigkit": {"schema": 1, "name": ..., "joints": [...], "parts": [...], "controls": [...], "links": [...], "motions": [...], ...}

Numbers are written with all their digits, so that a rig comes back as it was. The schema number grows when an older reader
could no longer read the data right; a file with a higher one is refused by name. Data of another form is a ValueError with its place.
"""

import dataclasses
import math

import numpy as np

from rigkit import arguments, links
from rigkit.control import Channel, Control
from rigkit.keys import KINDS, Keys, Motion
from rigkit.outline import Outline
from rigkit.rig import Rig

SCHEMA = 1
LINKS = {kind.__name__: kind for kind in (links.Follow, links.Blend, links.Share, links.Limb, links.Foot, links.Gaze, links.Chain)}


# ---- out --------------------------------------------------------------------------------------------------------


def written(character):
    """Return what a Character has beside skeleton and mesh, as JSON objects; extras that JSON can't hold are left out."""
    out = {"schema": SCHEMA, "name": character.name, "joints": list(character.skeleton.names)}
    out["parts"] = [part.name for part in character.parts]
    if character.rig:
        out["controls"] = [_control(control) for control in character.rig.controls]
        out["links"] = [_link(link) for link in character.rig.links]
    if character.motions:
        out["motions"] = [_motion(motion) for motion in character.motions]
    for name in ("landmarks", "hinges"):
        if points := getattr(character, name):
            out[name] = {key: point.tolist() for key, point in points.items()}
    if character.loops:
        out["loops"] = {key: {"part": part, "vertices": numbers.tolist()} for key, (part, numbers) in character.loops.items()}
    return out


def plain(value, depth=0):
    """Return a value as JSON has it, or raise ValueError where it can't."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, np.ndarray):
        value = value.tolist()
    if value is None or isinstance(value, (str, bool, int)) or (isinstance(value, float) and math.isfinite(value)):
        return value
    if depth < 20 and hasattr(value, "items"):
        if all(isinstance(key, str) for key in value):
            return {key: plain(inner, depth + 1) for key, inner in value.items()}
    elif depth < 20 and isinstance(value, (list, tuple)):
        return [plain(inner, depth + 1) for inner in value]
    raise ValueError(f"{arguments.shorten(value)} is nothing that JSON can hold")


def _control(control):
    out = {"name": control.name, "position": control.position.tolist(), "rotation": control.rotation.tolist(), "order": control.order}
    out["channels"] = [_fields(channel, {"low": -math.inf, "high": math.inf}) for channel in control.channels]
    if control.outline:
        out["outline"] = {"lines": [line.tolist() for line in control.outline.lines], "closed": list(control.outline.closed)}
    return out


def _link(link):
    kind = type(link).__name__
    if LINKS.get(kind) is not type(link):
        raise ValueError(f"a link of kind {kind} can't be saved; expected one of {', '.join(LINKS)}")
    return {"kind": kind} | _fields(link, {})


def _fields(thing, infinite):
    """A dataclass's fields that are not at their default. infinite: fields whose infinity is written by leaving them out."""
    out = {}
    for field in dataclasses.fields(thing):
        value = getattr(thing, field.name)
        if field.name in infinite and value == infinite[field.name]:
            continue
        value = plain(value)
        if field.default is dataclasses.MISSING or field.name in infinite or value != plain(field.default):
            out[field.name] = value
    return out


def _motion(motion):
    times, tracks = [], {}
    for name, keys in motion.tracks.items():
        moments = keys.times.tolist()
        if moments not in times:
            times.append(moments)
        track = {"times": times.index(moments), "values": keys.values.tolist()}
        if keys.kind != "linear":
            track["kind"] = keys.kind
        if keys.kind == "smooth":
            track["outs"] = keys.outs.tolist()
            if not np.array_equal(keys.ins, keys.outs):
                track["ins"] = keys.ins.tolist()
        tracks[name] = track
    out = {"name": motion.name, "times": times, "tracks": tracks}
    if motion.period:
        out |= {"period": motion.period, "advance": plain(dict(motion.advance))}
    return out


# ---- in ---------------------------------------------------------------------------------------------------------


def checked(item):
    """Return our data, an Item, or raise for a schema that this reader does not know."""
    schema = item.integer("schema", low=1)
    if schema > SCHEMA:
        raise ValueError(f"{item.at('schema')} is {schema}; this version of rigkit reads up to {SCHEMA}: use a newer one")
    return item


def rig(item, skeleton):
    """Return the Rig of our data, an Item, on a skeleton; None where it has no controls."""
    if "controls" not in item.value and "links" not in item.value:
        return None
    controls = [_told(one, _read_control) for one in item.items("controls")]
    made = [_told(one, _read_link) for one in item.items("links")]
    return _told(item, lambda _: Rig(skeleton, controls, made))


def motions(item):
    """Return the Motions of our data."""
    return tuple(_told(one, _read_motion) for one in item.items("motions"))


def points(item, name):
    """Return {name: (3,)} of one of our fields."""
    inner = item.item(name)
    return {} if inner is None else {key: inner.numbers(key, 3) for key in inner.value}


def loops(item):
    """Return {landmark: (part, vertex numbers)}."""
    inner = item.item("loops")
    if inner is None:
        return {}
    every = {key: inner.item(key) for key in inner.value}
    return {key: (one.text("part"), np.array(one.indices("vertices", 1 << 31), np.int64)) for key, one in every.items()}


def _told(item, make):
    """What `make` makes of an item; whatever is wrong with it is a ValueError that begins with its place."""
    try:
        return make(item)
    except (TypeError, AttributeError, KeyError, IndexError, ArithmeticError, RecursionError) as wrong:
        raise ValueError(f"{item.place} is not of its form: {wrong}") from None
    except ValueError as wrong:
        raise wrong if item.place in str(wrong) else ValueError(f"{item.place}: {wrong}") from None


def _read_control(item):
    outline = item.item("outline")
    channels = tuple(
        Channel(
            c.text("name"),
            c.number("home", 0.0),
            c.number("low", -math.inf),
            c.number("high", math.inf),
            c.truth("open", True),
            c.truth("flips"),
        )
        for c in item.items("channels")
    )
    made = None
    if outline is not None:
        made = Outline(tuple(np.array(line, np.float64) for line in outline.list("lines")), tuple(outline.list("closed")))
    return Control(item.text("name"), item.numbers("position", 3), item.numbers("rotation", 4), channels, made, item.text("order", "XYZ"))


def _read_link(item):
    kind = LINKS[item.choice("kind", LINKS)]
    known = {field.name: field for field in dataclasses.fields(kind)}
    given = {name: value for name, value in item.value.items() if name != "kind"}
    if unknown := sorted(set(given) - set(known)):
        raise ValueError(f"a {kind.__name__} has no {unknown[0]!r}; it has: {', '.join(known)}")
    return kind(**{name: _value(known[name], value, item.at(name)) for name, value in given.items()})


def _value(field, value, place):
    """A link's field, checked by the type it is declared with."""
    kinds = [kind.strip() for kind in str(getattr(field.type, "__name__", field.type)).split("|")]
    if "tuple" in kinds and isinstance(value, list):
        return _tuple(value, place)
    if "tuple" in kinds and isinstance(value, str) and value:
        return value
    if "str" in kinds and isinstance(value, str):
        return value
    if "float" in kinds and type(value) in (int, float):
        return float(value)
    if "dict" in kinds and isinstance(value, dict) and all(type(gain) in (int, float) for gain in value.values()):
        return {key: float(gain) for key, gain in value.items()}
    if "None" in kinds and value is None:
        return None
    raise ValueError(f"{place} is {arguments.shorten(value)}; expected {' or '.join(kinds)}")


def _tuple(value, place):
    if all(isinstance(one, str) for one in value):
        return tuple(value)
    if all(type(one) in (int, float) for one in value):
        return tuple(float(one) for one in value)
    if all(isinstance(one, list) for one in value):
        return tuple(_tuple(one, place) for one in value)
    raise ValueError(f"{place} is {arguments.shorten(value)}; expected a list of names or of numbers")


def _read_motion(item):
    times = item.list("times")
    inner = item.item("tracks") or item.fail("tracks", "an object")
    tracks = {}
    for name in inner.value:
        track = inner.item(name)
        moments = times[track.index("times", len(times)) if "times" in track.value else track.fail("times", "a number")]
        smooth = track.choice("kind", KINDS, "linear") == "smooth"
        outs = track.list("outs") if smooth else None
        ins = track.value.get("ins", outs) if smooth else None
        tracks[name] = Keys(moments, track.list("values"), track.value.get("kind", "linear"), ins, outs)
    return Motion(item.text("name"), tracks, item.number("period", None), item.value.get("advance", {}))
