"""Words drawn from one alphabet: each letter has its cell, a word its plate, and a word that reads differently keeps its rows."""

import numpy as np

from rigkit.view import lettering, marks


def test_every_letter_is_drawn_within_its_own_cell():
    picture = lettering.alphabet()[::-1]
    wide, tall = lettering.CELL
    for number, letter in enumerate(lettering.ALPHABET):
        row, column = divmod(number, lettering.COLUMNS)
        cell = picture[row * tall : (row + 1) * tall, column * wide : (column + 1) * wide]
        assert (cell.max() > 200) == (letter != " "), f"{letter!r} is drawn" if letter != " " else "a space is empty"
        assert cell[0].max() < 30, f"{letter!r} stays clear of the cell above"


def test_letters_stand_side_by_side_on_a_plate_that_holds_them():
    owner, corners, colours, triangles = lettering.laid([marks.Word("knee", (0, 1, 0), "#56B4E9", (5, 20), 12), marks.Word("x", (1, 0, 0))])
    assert owner.tolist() == [0] * 20 + [1] * 8 and len(triangles) == 2 * len(owner) // 4 and triangles.max() == len(owner) - 1
    plate, letters = corners[:4, :2], corners[4:20, :2]
    assert (colours[:4, 2] == -1).all() and np.allclose(np.abs(plate - [5, 20]), colours[:4, :2])
    assert letters[:, 0].min() > plate[:, 0].min() and letters[:, 0].max() < plate[:, 0].max()
    assert np.allclose(letters[4::4, 0], letters[1:-4:4, 0]), "each letter begins where the one before ends"
    assert np.allclose(colours[4:20], marks.rgb("#56B4E9"))


def test_a_word_that_reads_differently_takes_as_many_rows():
    rows = [lettering.laid([marks.Word(text, (0, 0, 0))])[0].shape for text in ("12.3 mm", "98.7 mm", "\u4e00\u4e00.\u4e00 \u00b0\u00b0")]
    assert len(set(rows)) == 1
