"""A colour ramp for a share from 0 to 1: one hue, from dark to light.

Lightness is what every kind of colour vision sees, so it alone carries the number: CIE L* grows in a straight line from
end to end (CIE 15:2004; sRGB as in IEC 61966-2-1). The hue is a help for the eye and says nothing.
"""

import numpy as np

DARK, LIGHT = 18.0, 96.0  # L* of 0 and of 1
HUE = np.radians(255.0)  # of blue, in CIELAB
CHROMA = 34.0  # at its most, half way up
WHITE = np.array([0.95047, 1.0, 1.08883])  # D65
LINEAR = np.array(
    [[3.2404542, -1.5371385, -0.4985314], [-0.9692660, 1.8760108, 0.0415560], [0.0556434, -0.2040259, 1.0572252]]
)  # XYZ to sRGB


def colours(shares):
    """Colours (..., 3) from 0 to 1, sRGB, of shares (...) from 0 to 1.

    >>> lightness(colours([0.0, 0.5, 1.0])).round(1).tolist()
    [18.0, 57.0, 96.0]
    """
    share = np.clip(np.asarray(shares, dtype=float), 0.0, 1.0)
    light = DARK + (LIGHT - DARK) * share
    chroma = CHROMA * np.sin(np.pi * (0.12 + 0.82 * share))
    y = (light + 16) / 116
    f = np.stack([y + chroma * np.cos(HUE) / 500, y, y - chroma * np.sin(HUE) / 200], axis=-1)
    xyz = WHITE * np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29))
    linear = np.clip(xyz @ LINEAR.T, 0.0, 1.0)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


def lightness(colours):
    """CIE L* (...) of sRGB colours (..., 3) from 0 to 1.

    >>> float(lightness([1.0, 1.0, 1.0]).round(3))
    100.0
    """
    colours = np.asarray(colours, dtype=float)
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    y = linear @ [0.2126729, 0.7151522, 0.0721750]
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)
