"""Colours: a part's "#rrggbb" and a material's base colour, whose factors are linear (glTF 2.0, section 3.9.2; sRGB: IEC 61966-2-1).

Whatever else a material has stays in the document.
"""

import numpy as np

from rigkit.gltf.fields import Item

PLAIN = "#9AA5AC"
ROUGHNESS = 0.6


def colours(document):
    """Return the colour of each material, "#RRGGBB"."""
    return [_colour(item) for item in Item(document, "").items("materials")]


def _colour(item):
    surface = item.item("pbrMetallicRoughness")
    factors = surface.numbers("baseColorFactor", 4) if surface else None
    if factors is None:
        return "#FFFFFF"
    steps = np.round(255 * encoded(np.clip(factors[:3], 0, 1))).astype(int)
    return "#" + "".join(f"{step:02X}" for step in steps)


def material(colour):
    """Return a material of a colour, named after it.

    >>> material("#FF0000")["pbrMetallicRoughness"]["baseColorFactor"]
    [1.0, 0.0, 0.0, 1.0]
    """
    steps = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    factors = [round(float(c), 9) for c in decoded(steps)]
    return {
        "name": colour,
        "pbrMetallicRoughness": {"baseColorFactor": [*factors, 1.0], "metallicFactor": 0.0, "roughnessFactor": ROUGHNESS},
    }


def encoded(linear):
    """sRGB values of linear ones, both 0 to 1."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-12) ** (1 / 2.4) - 0.055)


def decoded(srgb):
    """Linear values of sRGB ones, both 0 to 1."""
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
