"""Triangles turned into pixels in numpy: every triangle is cut into rows, every row into pixels, all at once.

For each pixel the nearest surface is kept (solid), or all surfaces are laid over
each other as thin glass (see-through). The light is that of the browser's shader
in `shaders`, so that both pictures look alike.
"""

import numpy as np

_LIGHTS = (  # direction, colour: key, fill, rim
    (np.array([0.45, 0.75, 0.75]), np.array([1.0, 0.96, 0.9]) * 0.95),
    (np.array([-0.85, 0.15, 0.5]), np.array([0.55, 0.7, 0.9]) * 0.28),
    (np.array([-0.25, 0.45, -0.9]), np.array([0.8, 0.88, 1.0]) * 0.5),
)
_DARK, _SKY = np.array([0.05, 0.05, 0.055]), np.array([0.24, 0.26, 0.29])


def paint(ground, eye, points, normals, colours, triangles, look="solid", fine=2):
    """Draw triangles (T, 3) of points, normals, colours (V, 3) over `ground`, (H, W, 3) from 0 to 1; returns a new picture.

    look: "solid", "glass" or "flat" (unlit). Each pixel is the mean of fine x fine.
    """
    glass = look == "glass"
    high, wide = (n * fine for n in ground.shape[:2])
    canvas = np.repeat(np.repeat(ground, fine, axis=0), fine, axis=1).reshape(-1, 3).astype(np.float32)
    seen = eye.pixels(points, (wide, high))
    triangles = _shown(seen, triangles, wide, high, glass)
    where, owner, depth = _fragments(seen[triangles], wide, high)
    if len(where):
        if not glass:
            nearest = np.full(high * wide, np.inf, np.float32)
            np.minimum.at(nearest, where, depth)
            keep = np.flatnonzero(depth == nearest[where])
            where, owner = where[keep], owner[keep]
        shares = _shares(seen[triangles][..., :2], where, owner, wide)
        values = np.column_stack([normals, colours, points]).astype(np.float32)[triangles]
        values = sum(shares[:, k, None] * values[owner, k] for k in range(3))
        normal = values[:, :3] / np.maximum(np.linalg.norm(values[:, :3], axis=1, keepdims=True), 1e-9)
        view = _view(eye, values[:, 6:])
        if look == "flat":
            canvas[where] = _flat(normal, view, values[:, 3:6])
        elif glass:
            _lay_glass(canvas, where, normal, view, values[:, 3:6])
        else:
            canvas[where] = _lit(normal, view, values[:, 3:6], values[:, 7])
    return canvas.reshape(high // fine, fine, wide // fine, fine, 3).mean(axis=(1, 3)).clip(0, 1)  # a hair over 1 by rounding


def _shown(seen, triangles, wide, high, glass):
    """The triangles that lie in the picture, and for a solid face the eye."""
    corners = seen[triangles]
    low, top = corners[..., :2].min(axis=1), corners[..., :2].max(axis=1)
    keep = (corners[..., 2] > 0.01).all(axis=1) & (top > 0).all(axis=1) & (low < [wide, high]).all(axis=1)
    area = _area(corners[..., :2])
    return triangles[keep & ((np.abs(area) > 1e-9) if glass else (area < -1e-9))]


def _area(corners):
    """Twice the signed area of triangles (T, 3, 2)."""
    b, c = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]


def _fragments(corners, wide, high):
    """The pixels whose middle lies in a triangle (T, 3, 3): the pixel's number, the triangle's, the depth there."""
    first = np.clip(np.ceil(corners[..., 1].min(axis=1) - 0.5), 0, high).astype(np.int64)
    last = np.clip(np.ceil(corners[..., 1].max(axis=1) - 0.5), 0, high).astype(np.int64)
    owner, y = _expanded(first, last)
    left, right = _row(corners[owner], y + 0.5)
    row, x = _expanded(np.clip(np.ceil(left - 0.5), 0, wide).astype(np.int64), np.clip(np.ceil(right - 0.5), 0, wide).astype(np.int64))
    owner, y = owner[row], y[row]
    slope_x, slope_y = _slopes(corners)
    start = corners[owner, 0]
    depth = start[:, 2] + slope_x[owner] * (x + 0.5 - start[:, 0]) + slope_y[owner] * (y + 0.5 - start[:, 1])
    return y * wide + x, owner, depth.astype(np.float32)


def _expanded(first, last):
    """All whole numbers from first[i] up to last[i], with the i each belongs to."""
    count = np.maximum(last - first, 0)
    owner = np.repeat(np.arange(len(first)), count)
    return owner, np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count) + first[owner]


def _row(corners, y):
    """Where the rows at heights y (R,) enter and leave their triangles (R, 3, 3): the least and the greatest x."""
    low, high = np.full(len(y), np.inf), np.full(len(y), -np.inf)
    for k in range(3):
        (x0, y0), (x1, y1) = corners[:, k, :2].T, corners[:, (k + 1) % 3, :2].T
        crossed = ((y0 <= y) & (y < y1)) | ((y1 <= y) & (y < y0))
        x = x0 + (y - y0) * np.divide(x1 - x0, y1 - y0, out=np.zeros_like(y), where=crossed)
        low, high = np.where(crossed, np.minimum(low, x), low), np.where(crossed, np.maximum(high, x), high)
    return np.where(np.isfinite(low), low, 0), np.where(np.isfinite(high), high, 0)


def _slopes(corners):
    """How fast the depth of each triangle (T, 3, 3) grows to the right and downwards."""
    b, c = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0]
    return (b[:, 2] * c[:, 1] - b[:, 1] * c[:, 2]) / area, (b[:, 0] * c[:, 2] - b[:, 2] * c[:, 0]) / area


def _shares(corners, where, owner, wide):
    """The shares (F, 3) of a triangle's corners in each of its pixels."""
    y, x = np.divmod(where, wide)
    a = corners[:, 0]
    b, c = corners[:, 1] - a, corners[:, 2] - a
    area = _area(corners)
    dx, dy = x + 0.5 - a[owner, 0], y + 0.5 - a[owner, 1]
    v = (dx * (c[:, 1] / area)[owner] - dy * (c[:, 0] / area)[owner]).astype(np.float32)
    w = (dy * (b[:, 0] / area)[owner] - dx * (b[:, 1] / area)[owner]).astype(np.float32)
    return np.stack([1 - v - w, v, w], axis=1)


def _view(eye, places):
    """Unit vectors from places (F, 3) to the eye."""
    if eye.parallel:
        return np.broadcast_to(eye.back.astype(np.float32), places.shape)
    to = eye.position.astype(np.float32) - places
    return to / np.linalg.norm(to, axis=1, keepdims=True)


def _lit(normal, view, colours, height):
    """The colour of a solid, (F, 3): light is summed in linear light and turned back to sRGB."""
    facing = np.einsum("fi,fi->f", normal, view)
    normal = np.where(facing[:, None] < 0, -normal, normal)
    light = _DARK + (_SKY - _DARK) * (normal[:, 1:2] * 0.5 + 0.5)
    for direction, colour in _LIGHTS:
        light = light + colour * np.maximum(normal @ (direction / np.linalg.norm(direction)), 0)[:, None]
    key = _LIGHTS[0][0] / np.linalg.norm(_LIGHTS[0][0])
    half = key + view
    half = half / np.linalg.norm(half, axis=1, keepdims=True)
    gloss = np.maximum(np.einsum("fi,fi->f", normal, half), 0) ** 42 * 0.22
    edge = (1 - np.abs(facing)) ** 4 * 0.10
    near_floor = np.clip(height / 0.14, 0, 1)
    shade = 0.55 + 0.45 * near_floor**2 * (3 - 2 * near_floor)
    linear = colours**2.2 * light * shade[:, None] + gloss[:, None] + edge[:, None] * np.array([0.75, 0.85, 1.0])
    return np.clip(linear, 0, 1) ** (1 / 2.2)


def _flat(normal, view, colours):
    """The colour of what is unlit, (F, 3): greyer only along outlines."""
    facing = np.clip((np.abs(np.einsum("fi,fi->f", normal, view)) - 0.05) / 0.40, 0, 1)
    edge = 0.6 * (1 - facing**2 * (3 - 2 * facing))[:, None]
    return (1 - edge) * colours + edge * np.array([0.36, 0.41, 0.45])


def _lay_glass(canvas, where, normal, view, colours):
    """Lay thin glass over the canvas; the order of the layers is not told apart."""
    facing = np.minimum(np.abs(np.einsum("fi,fi->f", normal, view)), 1)
    cover = 0.07 + 0.34 * (1 - facing) ** 2
    tint = 0.65 * colours + 0.35 * np.array([0.80, 0.88, 0.96])
    count = len(canvas)
    total = np.bincount(where, cover, count)
    through = np.exp(np.bincount(where, np.log1p(-cover), count))
    mean = np.stack([np.bincount(where, cover * tint[:, k], count) for k in range(3)], axis=1) / np.maximum(total, 1e-9)[:, None]
    canvas *= through[:, None]
    canvas += mean * (1 - through)[:, None]
