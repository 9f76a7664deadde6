"""Values of a rig's channels: checked, held in their range, laid out as floats or as rows of N, and cut into blocks."""

from math import inf, isfinite

import numpy as np

from rigkit import arguments
from rigkit.pose import BLOCK

NUMBERS = (float, int)
TRIED_RANGE = 0.3  # metres or radians about home, for a channel without limits


def held(name, channel, value, shape):
    """A channel's value as a float or as N numbers, held in its range."""
    if type(value) not in NUMBERS:
        value = arguments.array(name, value, ())
    if type(value) in NUMBERS or value.ndim == 0:
        value = float(value)
        if not isfinite(value):
            raise ValueError(f"{name} is {value}; expected a finite number")
        if not channel.open and abs(value - channel.home) > 1e-12:
            raise ValueError(_closed(name, channel, value))
        return value if channel.low <= value <= channel.high else min(max(value, channel.low), channel.high)
    value = np.broadcast_to(value, shape).reshape(-1)
    if not channel.open and (off := np.abs(value - channel.home)).max() > 1e-12:
        raise ValueError(_closed(name, channel, value[off.argmax()]))
    return value if channel.low == -inf and channel.high == inf else np.clip(value, channel.low, channel.high)


def _closed(name, channel, value):
    return f"{name} is {value:g} and the channel is closed; expected its home value, {channel.home:g}: open it, or use one that is open"


def as_rows(value, shape):
    if value.ndim == 1:
        return tuple(value.tolist())
    flat = np.broadcast_to(value, (*shape, 4)).reshape(-1, 4)
    return tuple(np.ascontiguousarray(flat.T))


def part(slots, start):
    """The block of every channel that begins at pose `start`."""
    return {name: _cut(value, slice(start, start + BLOCK)) for name, value in slots.items()}


def _cut(value, block):
    if type(value) is float:
        return value
    return tuple(_cut(row, block) for row in value) if isinstance(value, tuple) else value[block]


def tried(channel):
    """The range in which a channel is tried out: its own, and not far from home."""
    return max(channel.low, channel.home - TRIED_RANGE), min(channel.high, channel.home + TRIED_RANGE)
