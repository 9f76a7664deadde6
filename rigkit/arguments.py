"""The one home for argument checks: shapes, finite numbers, lengths, names.

Every check returns the argument as a float64 array (or raises a ValueError that
says what came, what was expected and what to do). In a batch the message names
the first bad row.
"""

import numpy as np

EXACT = 1e-15  # the square of a length this near to one is rounding alone
UNIT_TOLERANCE = 1e-3  # files hold float32: a quaternion this near to unit length is normalised, one further off refused


def array(name, value, tail):
    """Return `value` as a finite float64 array whose last axes have the shape `tail`.

    >>> array("point", [1, 2, 3], (3,))
    array([1., 2., 3.])
    >>> array("point", [1, 2], (3,))
    Traceback (most recent call last):
    ...
    ValueError: point has shape (2,); expected (..., 3): give one item or a batch of them
    """
    out = _floats(name, value, tail)
    finite(name, out, len(tail))
    return out


def _floats(name, value, tail):
    try:
        out = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise ValueError(f"{name} is {shorten(value)}; expected numbers of shape {shape_text(tail)}") from None
    if len(tail) and out.shape[-len(tail):] != tuple(tail):
        raise ValueError(f"{name} has shape {out.shape}; expected {shape_text(tail)}: give one item or a batch of them")
    return out


def finite(name, value, item_axes=1):
    """Raise where `value` holds nan or infinity; an item has `item_axes` axes."""
    good = np.isfinite(value)
    if good.all():
        return
    bad = ~good.reshape(good.shape[: good.ndim - item_axes] + (-1,)).all(axis=-1)
    row = first(bad)
    raise ValueError(f"{name}{where(row)} is {shorten(value[row])}; expected finite numbers: look for a division by zero before this call")


def points(name, value):
    """Return `value` as finite points of shape (..., 3)."""
    return array(name, value, (3,))


def quaternions(name, value):
    """Return `value` as unit quaternions (..., 4), xyzw; normalised when within 1e-3 of unit length.

    >>> quaternions("q", [0, 0, 0, 2])
    Traceback (most recent call last):
    ...
    ValueError: q has length 2; expected 1 within 0.001: divide a quaternion by its length first
    """
    q = _floats(name, value, (4,))
    square = np.einsum("...i,...i->...", q, q)
    off = np.abs(square - 1.0).max(initial=0.0)
    if off < EXACT:
        return q
    if not off < UNIT_TOLERANCE:  # nan and infinity come here too
        finite(name, q)
        bad = np.abs(np.sqrt(square) - 1.0) > UNIT_TOLERANCE
        if bad.any():
            row = first(bad)
            raise ValueError(
                f"{name}{where(row)} has length {np.sqrt(square[row]):.6g}; expected 1 within {UNIT_TOLERANCE}: divide a quaternion by its length first"
            )
    return q / np.sqrt(square)[..., None]


def directions(name, value):
    """Return `value` (..., 3) scaled to unit length; a zero vector is an error.

    >>> directions("axis", [0, 0, 0])
    Traceback (most recent call last):
    ...
    ValueError: axis has length 0; expected a direction: give a vector that is not zero
    """
    v = array(name, value, (3,))
    size = np.abs(v).max(axis=-1, keepdims=True)
    if not size.all():
        raise ValueError(f"{name}{where(first(size[..., 0] == 0))} has length 0; expected a direction: give a vector that is not zero")
    v = v / size  # first, so that tiny and huge vectors keep their digits
    return v / np.sqrt(np.einsum("...i,...i->...", v, v))[..., None]


def broadcast(**shapes):
    """Return the common batch shape of named arrays' leading axes, or raise naming each shape.

    >>> broadcast(root=(5,), target=())
    (5,)
    """
    try:
        return np.broadcast_shapes(*shapes.values())
    except ValueError:
        told = ", ".join(f"{name} {shape}" for name, shape in shapes.items())
        raise ValueError(f"batch shapes do not fit together: {told}; expected equal leading axes, or 1") from None


def first(bad):
    """The index of the first true entry of `bad`, as a tuple."""
    return tuple(int(i) for i in np.argwhere(bad)[0])


def where(row):
    """' at row (2,)' for a batch, '' for one item."""
    return f" at row {row}" if row else ""


def shape_text(tail):
    """(3,) as '(..., 3)'."""
    return "(..., " + ", ".join(str(n) for n in tail) + ")"


def shorten(value, width=60):
    """`value` on one line of at most `width` letters."""
    value = value.item() if isinstance(value, np.generic) else value
    text = " ".join(np.array2string(value, precision=6).split()) if isinstance(value, np.ndarray) else " ".join(repr(value).split())
    return text if len(text) <= width else text[: width - 3] + "..."
