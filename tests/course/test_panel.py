"""Panels: the text exactly as promised, never long, never wide; the page escaped, labelled, readable in both themes."""

import re
from fractions import Fraction
from html.parser import HTMLParser

import pytest

from rigkit.course import panel as panels
from rigkit.course.checkpoint import OUTCOMES, ClaimResult, Result
from rigkit.course.panel import panel

LOOK = Result("06.2", "The two-bone solver", "look", "", (
    ClaimResult("lengths", "bone lengths stay the same", 2, Fraction(2), "ok"),
    ClaimResult("reach", "the wrist reaches a target inside the reach", 1, Fraction(1), "ok"),
    ClaimResult("side", "the elbow bends towards the pole point", 2, Fraction(0), "look",
                "root (0, 1, 0)   target (0.2, 0.1, 0)   pole (0, 0.5, 1)", "elbow on the +z side of the root-to-target line",
                "elbow z = -0.183 m        (must be above 0; tolerance 1e-6 m)", "the sign of the bend is flipped",
                'step 6b, "which way is positive?"', "sign"),
), 41)

TEXT = """\
Checkpoint 06.2  The two-bone solver                       3 of 5 points
  [ok]    2/2  bone lengths stay the same
  [ok]    1/1  the wrist reaches a target inside the reach
  [look]  0/2  the elbow bends towards the pole point
          tried     root (0, 1, 0)   target (0.2, 0.1, 0)   pole (0, 0.5, 1)
          expected  elbow on the +z side of the root-to-target line
          got       elbow z = -0.183 m        (must be above 0; tolerance 1e-6 m)
          likely    the sign of the bend is flipped
          look at   step 6b, "which way is positive?"
          next      show("06.2") draws your answer over a faint copy of the expected one
  variant 41; the same case again on every run"""


def result(outcome, claims=3, words=12):
    """A result whose claims all have one outcome, with as many words as fit nowhere."""
    told = "many words of no use " * words
    return Result("12.3", told, outcome, told, tuple(
        ClaimResult(str(i), told, 2, Fraction(2 if outcome == "ok" else 0), outcome, told, told, told, told, told) for i in range(claims)), 99)


def test_the_text_is_the_promised_one():
    assert panel(LOOK, can_show=True).text == TEXT


def test_without_a_cause_that_is_known_there_is_no_likely_line():
    claims = (*LOOK.claims[:2], ClaimResult("side", "the elbow bends", 2, Fraction(0), "look", "a", "b", "c"))
    assert "likely" not in panel(Result("06.2", "x", "look", "", claims, 41)).text


def test_an_untouched_checkpoint_says_so_and_shows_the_points_to_earn():
    text = panel(Result("06.2", "The solver", "not started", "limb is still `...`", (ClaimResult("a", "it holds", 2, Fraction(0), "not started"),), 0)).text
    assert text.splitlines()[0].endswith("not started, 2 points") and "[ -- ]  -/2  it holds" in text


@pytest.mark.parametrize("claims", [1, 3, 6, 9, 20])
@pytest.mark.parametrize("outcome", OUTCOMES)
@pytest.mark.parametrize("words", [1, 40])
def test_every_panel_stays_under_15_lines_and_100_columns(outcome, claims, words):
    lines = panel(result(outcome, claims, words), can_show=True).text.splitlines()
    assert len(lines) < 15 and max(map(len, lines)) <= 100
    assert lines[0].startswith("Checkpoint 12.3") and lines[-1] == "  variant 99; the same case again on every run"


def test_a_long_panel_keeps_the_claim_that_is_told_and_counts_every_point():
    claims = tuple(ClaimResult(str(i), f"claim {i}", 1, Fraction(i % 2), "ok" if i % 2 else "look", "t", "e", f"got {i}", "l", "a") for i in range(24))
    text = panel(Result("01.1", "Many", "look", "", claims, 0)).text
    assert "got 0" in text and "[ok]    12/12" in text and len(text.splitlines()) < 15
    shown = [tuple(map(int, pair)) for pair in re.findall(r"\] +(\d+)/(\d+)", text)]
    assert (sum(a for a, _ in shown), sum(b for _, b in shown)) == (12, 24)


def test_points_are_exact_fractions():
    claims = (ClaimResult("a", "x", 1, Fraction(1, 3), "look"), ClaimResult("b", "y", 1, Fraction(1, 3), "look"))
    assert "2/3 of 2 points" in panel(Result("01.1", "x", "look", "", claims, 0)).text


class Reader(HTMLParser):
    """Collects tags, attributes and text, and holds that every tag is closed."""

    def __init__(self):
        super().__init__()
        self.open, self.tags, self.words = [], [], []

    def handle_starttag(self, tag, attributes):
        self.open.append(tag)
        self.tags.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


def read(page):
    reader = Reader()
    reader.feed(page)
    assert reader.open == []
    return reader


def test_the_page_says_what_the_text_says():
    words = " ".join(" ".join(read(panel(LOOK, can_show=True).html).words).split())
    for line in TEXT.splitlines():
        for part in re.split(r"\s{2,}", re.sub(r"\[ok\]|\[look\]", "", line).strip()):
            assert part in words


def test_the_page_is_a_labelled_section_with_a_heading():
    tags = read(panel(LOOK).html).tags
    assert tags[0][0] == "section" and tags[0][1]["aria-label"] == "Checkpoint 06.2, The two-bone solver: 3 of 5 points"
    assert ("heading", "4") in [(attributes.get("role"), attributes.get("aria-level")) for _, attributes in tags]


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_outcomes_are_told_by_words_beside_the_colours(outcome):
    words = read(panel(result(outcome, words=1)).html).words
    assert {"ok": "ok", "look": "look", "--": "open"}[panels.mark(outcome)] in words


def test_everything_of_the_learner_is_escaped():
    bad = "<script>alert(1)</script>&\"'"
    page = panel(Result(bad, bad, "look", bad, (ClaimResult(bad, bad, 1, Fraction(0), "look", bad, bad, bad, bad, bad),), 0)).html
    assert "<script" not in page and {tag for tag, _ in read(page).tags} <= {"section", "span", "ul", "li", "dl", "dt", "dd", "p", "div"}


def luminance(colour):
    """Relative luminance, as WCAG 2.1 defines it."""
    parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    return sum(w * (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4) for w, c in zip((0.2126, 0.7152, 0.0722), parts))


@pytest.mark.source("WCAG")
@pytest.mark.parametrize("ground", panels._GROUND.values())
def test_words_on_colour_keep_a_contrast_of_4_5(ground):
    """WCAG 2.1, 1.4.3. The words are white on a ground of their own, so the theme makes no difference."""
    assert (1.05) / (luminance(ground) + 0.05) >= 4.5


def test_a_build_gets_text_only(monkeypatch):
    monkeypatch.setenv("RIGKIT_OUTPUT", "text")
    assert set(panel(LOOK)._repr_mimebundle_()) == {"text/plain"}
    monkeypatch.delenv("RIGKIT_OUTPUT")
    assert set(panel(LOOK)._repr_mimebundle_()) == {"text/plain", "text/html"}
