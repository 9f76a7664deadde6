"""The colour ramp: lightness alone carries the number, for every kind of colour vision."""

import numpy as np
import pytest

from rigkit.view import ramp

# Machado, Oliveira & Fernandes 2009, table of severity 1.0 (memory): linear sRGB as a protanope, a deuteranope, a tritanope sees it
SEEN = {
    "protanope": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranope": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritanope": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}


def as_seen(colours, kind):
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    linear = np.clip(linear @ np.array(SEEN[kind]).T, 0, 1)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


# CIE 15:2004, L* of sRGB (IEC 61966-2-1): white 100, black 0, the grey #777777 50.03 (memory)
@pytest.mark.source("CIE")
def test_lightness_is_that_of_the_standard():
    assert ramp.lightness([[1, 1, 1], [0, 0, 0], [0x77 / 255] * 3]) == pytest.approx([100, 0, 50.03], abs=0.01)


def test_lightness_grows_in_a_straight_line_from_end_to_end():
    shares = np.linspace(0, 1, 101)
    assert ramp.lightness(ramp.colours(shares)) == pytest.approx(
        ramp.DARK + (ramp.LIGHT - ramp.DARK) * shares, abs=0.6
    )  # what sRGB can't show is cut


@pytest.mark.source("Machado")
@pytest.mark.parametrize("kind", SEEN)
def test_the_order_of_the_ramp_survives_colour_vision_deficiency(kind):
    light = ramp.lightness(as_seen(ramp.colours(np.linspace(0, 1, 101)), kind))
    assert (np.diff(light) > 0.4).all() and np.ptp(light) > 70


def test_the_darkest_colour_stands_out_from_the_scene_and_the_hue_stays_one():
    shown = ramp.colours(np.linspace(0, 1, 21))
    assert (shown[:, 2] >= shown[:, 0]).all() and (shown[:, 2] >= shown[:, 1] - 1e-9).all()
    assert ramp.lightness(shown[0]) > ramp.lightness(np.full(3, 0x11 / 255)) + 8
