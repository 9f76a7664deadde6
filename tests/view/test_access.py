"""Colours and names that let people in: contrast by WCAG, colours that stay apart for every kind of colour vision, names where widgets give none."""

from itertools import combinations

import numpy as np
import pytest

from rigkit import words
from rigkit.view import marks, naming, picture
from tests.view.test_marks import contrast
from tests.view.test_ramp import SEEN, as_seen

WORDS = {*words.SIDE_COLOUR.values(), *words.AXIS_COLOUR.values(), *(words.PALETTE[name] for name in ("vermilion", "yellow", "green", "purple", "sky"))}


# WCAG 2.2, 1.4.3: text keeps 4.5:1 on its ground. The ground of a word is its plate, over whatever is behind: white at worst.
@pytest.mark.source("WCAG")
@pytest.mark.parametrize("behind", [words.SCENE, "#FFFFFF"])
def test_words_over_the_scene_can_be_read(behind):
    ground = marks.mix(behind, picture.PLATE, picture.OPAQUE)
    assert all(contrast(colour, ground) >= 4.5 for colour in WORDS)


# WCAG 2.2, 1.4.3. Notes and the heads of tables are dimmed text of the page's own: JupyterLab's black of 87 % on white, its white of 87 % on #111111
@pytest.mark.source("WCAG")
@pytest.mark.parametrize(("text", "page"), [("#000000", "#FFFFFF"), ("#FFFFFF", "#111111")])
def test_dimmed_words_beside_the_scene_can_be_read(text, page):
    assert contrast(marks.mix(page, text, 0.87 * 0.8), page) >= 4.5


def lab(colours):
    """CIE 15:2004, L*a*b* of sRGB (IEC 61966-2-1) under D65, (N, 3). (memory)"""
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    xyz = linear @ np.array([[0.4124, 0.2126, 0.0193], [0.3576, 0.7152, 0.1192], [0.1805, 0.0722, 0.9505]]) / [0.9505, 1.0, 1.089]
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.column_stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])])


# CIE 15:2004: sRGB red is L* 53.24, a* 80.09, b* 67.20 (memory)
@pytest.mark.source("CIE")
def test_the_formula_of_the_standard_gives_the_published_red():
    assert lab(np.array([[1.0, 0, 0]]))[0] == pytest.approx([53.24, 80.09, 67.20], abs=0.05)


# Of CIE 1976 delta E; about 2.3 can just be seen (Mahy et al., Color Research and Application 19 (1994) 105, memory). Axes have letters too.
APART, LETTERED = 20.0, 15.0
PAIRS = {
    "sides": list(words.SIDE_COLOUR.values()),
    "axes": list(words.AXIS_COLOUR.values()),
    "target and pole": [words.PALETTE["vermilion"], words.PALETTE["yellow"]],
    "a tinted part and Tally's white": [words.PALETTE["vermilion"], "#E8E4D8"],
}


@pytest.mark.source("Machado", "CIE")
@pytest.mark.parametrize("kind", [None, *SEEN])
def test_colours_that_mean_different_things_stay_apart_for_every_kind_of_colour_vision(kind):
    for what, colours in PAIRS.items():
        rgb = np.array([marks.rgb(colour) for colour in colours])
        seen = lab(rgb if kind is None else as_seen(rgb, kind))
        for a, b in combinations(range(len(colours)), 2):
            assert np.linalg.norm(seen[a] - seen[b]) > (LETTERED if what == "axes" else APART), f"{what}: {colours[a]} and {colours[b]} for a {kind}"


def test_what_is_told_by_colour_is_told_by_shape_too():
    assert len(set(words.SIDE_SHAPE.values())) == len(set(words.SIDE_LINE.values())) == 3


def test_the_script_of_names_stands_in_one_attribute_and_fetches_nothing():
    script, style = naming.bridge().removeprefix('<style onload="').removesuffix("</style>").split('">')
    assert '"' not in script and "<" not in style
    assert "http" not in script + style and "url(" not in style and "\n" not in script + style
