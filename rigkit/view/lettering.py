"""Words as pictures of letters: one drawn alphabet, and for each word a dark plate and a small rectangle a letter.

All words of a scene are one object then, and a word that reads differently is a
few numbers instead of a new picture. The letters are those of a still picture:
DejaVu Sans Mono, which comes with matplotlib, at twice its size for crisp edges.
"""

import unicodedata
from functools import lru_cache

import numpy as np

from rigkit.view.marks import rgb

ALPHABET = "".join(map(chr, range(32, 127))) + "\u00b0\u00b1\u00b7\u00d7\u00b2\u00b3\u00b5\u2013\u2014\u2026\u2192\u2190\u2212\u0394\u03b8\u00e4\u00f6\u00fc\u00df\u00e9\u00e8\u00ea\u00e1\u00ed\u00f3\u00fa\u00f1\u00e7\u2032"
CELL = np.array([16, 32])  # pixels of a letter's cell, width and height
COLUMNS = 16
WIDE = 0.6021  # width of a letter, as a share of its size
BASE = 24  # pixels from the top of a cell to the line that letters stand on
MARGIN, HIGH = 3.0, 0.68  # of a plate: pixels beside the letters, and half its height as a share of their size
_QUAD = np.array([[0, 1, 2], [0, 2, 3]])
_SQUARE = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=float)


@lru_cache(1)
def alphabet():
    """The letters as a picture (H, W), uint8, COLUMNS cells a row, its first row at the bottom as WebGL wants it."""
    from matplotlib.font_manager import findfont
    from matplotlib.ft2font import FT2Font

    font = FT2Font(findfont("DejaVu Sans Mono"))
    font.set_size(float(CELL[0] / WIDE), 72)
    rows = -(-len(ALPHABET) // COLUMNS)
    made = np.zeros((rows * CELL[1], COLUMNS * CELL[0]), np.uint8)
    for number, letter in enumerate(ALPHABET):
        glyph = font.load_char(ord(letter))
        font.set_text(letter)
        font.draw_glyphs_to_bitmap(antialiased=True)
        image = np.asarray(font.get_image())
        left, top = round(glyph.bbox[0] / 64), BASE - round(glyph.bbox[3] / 64)
        cell = made[number // COLUMNS * CELL[1]:, number % COLUMNS * CELL[0]:][: CELL[1], : CELL[0]]
        shown = image[max(0, -top):, max(0, -left):][: CELL[1] - max(0, top), : CELL[0] - max(0, left)]
        cell[max(0, top):, max(0, left):][: shown.shape[0], : shown.shape[1]] = shown
    return made[::-1].copy()


def spelled(text):
    """The numbers of a text's letters in ALPHABET; one that is not there is told by its plain form, else by "?".

    >>> spelled("ab") == [ALPHABET.index("a"), ALPHABET.index("b")], spelled("\\u0101") == spelled("a"), spelled("\\u4e00") == spelled("?")
    (True, True, True)
    """
    return [_number(letter) for letter in text]


@lru_cache(1024)
def _number(letter):
    plain = next((one for one in (letter, unicodedata.normalize("NFKD", letter)[0]) if one in ALPHABET), "?")
    return ALPHABET.index(plain)


def plate(text, size):
    """Half the width and height of a word's plate, pixels."""
    return np.array([WIDE * size * len(text) / 2 + MARGIN, size * HIGH])


@lru_cache(512)
def rectangles(text, colour, offset, size):
    """A word as rectangles about its point: corners (4 + 4N, 4), pixels right and up and the place in the alphabet, and colours (4 + 4N, 3).

    The first rectangle is the plate. Its colour is no colour: half its width, half its height, and -1.
    """
    half, middle = plate(text, size), np.array(offset, dtype=float)
    corners, colours = [np.column_stack([middle + _SQUARE * half, _SQUARE * half])], [np.tile([*half, -1.0], (4, 1))]
    tall = CELL[1] / CELL[0] * WIDE * size / 2
    rows = -(-len(ALPHABET) // COLUMNS)
    for place, number in enumerate(spelled(text)):
        x = (place + 0.5 - len(text) / 2) * WIDE * size
        box = middle + [x, (BASE / CELL[1] - 0.5) * 2 * tall - 0.36 * size] + _SQUARE * [WIDE * size / 2, tall]
        cell = np.array([number % COLUMNS, rows - 1 - number // COLUMNS])
        corners.append(np.column_stack([box, (cell + (_SQUARE + 1) / 2) / [COLUMNS, rows]]))
        colours.append(np.tile(rgb(colour), (4, 1)))
    return _fixed(np.concatenate(corners)), _fixed(np.concatenate(colours))


def _fixed(made):
    """An array that is handed out more than once, read-only."""
    made.setflags(write=False)
    return made


def laid(words):
    """All words as rows: whose they are (R,), corners (R, 4), colours (R, 3), and the triangles (T, 3) into them."""
    drawn = [rectangles(word.text, word.colour, tuple(word.offset), word.size) for word in words]
    owner = np.repeat(np.arange(len(words)), [len(corners) for corners, _ in drawn])
    triangles = (4 * np.arange(len(owner) // 4)[:, None, None] + _QUAD).reshape(-1, 3)
    return owner, np.concatenate([c for c, _ in drawn]), np.concatenate([c for _, c in drawn]), triangles


POINT = """
attribute vec4 glyph;
uniform vec2 size;
varying vec2 vPlace; varying vec3 vTint;
void main() {
    vec4 at = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
    vec2 pixel = floor((at.xy / at.w * 0.5 + 0.5) * size + 0.5) + glyph.xy;
    at.xy = (pixel / size * 2.0 - 1.0) * at.w;
    vPlace = glyph.zw; vTint = color;
    gl_Position = at;
}"""

COLOUR = """
uniform sampler2D ink;
varying vec2 vPlace; varying vec3 vTint;
void main() {
    float round_ = length(max(abs(vPlace) - vTint.xy + 4.0, 0.0)) - 4.0;
    float plate = 0.95 * (1.0 - smoothstep(-0.7, 0.7, round_));
    float letter = texture2D(ink, vPlace).r;
    bool isPlate = vTint.z < 0.0;
    float alpha = isPlate ? plate : letter;
    if (alpha < 0.01) discard;
    gl_FragColor = vec4(isPlate ? vec3(0.04) : vTint, alpha);
}"""
