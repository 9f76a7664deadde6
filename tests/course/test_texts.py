"""Every chapter's text keeps what its head and its checks promise: minutes that add up, points, and a place for every pointer."""

import re
from functools import cache

import pytest

from rigkit.course import chapters
from tests.course.boxes import boxes, promised
from tests.course.tried import Tried

ARTICLES = re.compile(r"^(?:a|an|the) ")
FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
REST = re.compile(r"A good place to rest|## A resting place")
SHORT = {"01": ("01.6", "01.8"), "08": ("08.7",)}  # their boxes tell several claims in a line; these checkpoints have a box of another form
BRIEF = ("00",)  # a tour: one sitting without parts, and boxes of its own

tried = cache(Tried)


@cache
def sittings(chapter):
    """(minutes of the whole, [(minutes of a sitting, its parts)]) as the head of a text tells them."""
    row = re.search(r"^\| Minutes \| about (\d+)(.*) \|$", tried(chapter).text, re.MULTILINE)
    parted = re.findall(r"(?:First|Second|Third), (\d+): (.+?)(?=\. (?:Second|Third),|$)", row[2]) or [(row[1], row[2].removeprefix(": "))]
    return int(row[1]), [(int(whole), parts.split(" · ")) for whole, parts in parted]


def last_number(part):
    """The minutes of a part: "idea 2 to the fold, 45"."""
    return int(re.findall(r"\d+", part)[-1])


@pytest.mark.parametrize("chapter", [one for one in chapters.ids() if one not in BRIEF])
def test_the_minutes_add_up(chapter):
    whole, parted = sittings(chapter)
    assert whole == sum(minutes for minutes, _ in parted) == tried(chapter).chapter.minutes
    for minutes, parts in parted:
        assert minutes == sum(map(last_number, parts)), parts
        assert 55 <= minutes <= 120, "longer than anybody sits"
    rests = [found.start() for found in REST.finditer(tried(chapter).text)]
    checks = [found.start() for found in re.finditer(r'^check\("', tried(chapter).text, re.MULTILINE)]
    assert len([rest for rest in rests if checks[0] < rest < checks[-1]]) >= len(parted) - 1, "a place to rest between two sittings"


@pytest.mark.parametrize("chapter", [one for one in chapters.ids() if one not in BRIEF])
def test_the_boxes_and_the_head_tell_the_points(chapter):
    one = tried(chapter).chapter
    if chapter in SHORT:
        assert [box[:3] for box in boxes(one)] == [box[:3] for box in promised(one) if box[0] not in SHORT[chapter]]
    else:
        assert boxes(one) == promised(one)
    row = re.search(r"^\| Points \| (\d+)", tried(chapter).text, re.MULTILINE)
    assert row is None or int(row[1]) == sum(checkpoint.points for checkpoint in one.checkpoints)


@pytest.mark.parametrize("chapter", chapters.ids())
def test_every_place_to_look_at_is_in_the_text(chapter):
    """A place is a heading, words in bold or a step, within its idea where it names one; an article in front does not count."""
    text = FENCE.sub(lambda fence: re.sub("^#+ *", "", fence[0], flags=re.MULTILINE), tried(chapter).text)  # a comment is no heading
    checkpoints = tried(chapter).chapter.checkpoints
    names = {one.look_at for checkpoint in checkpoints for one in (*checkpoint.claims, *checkpoint.mistakes)} - {""}
    missing = sorted(name for name in names if not is_there(text, name))
    assert not missing


def is_there(text, name):
    """Whether a text has the place that a panel names: "idea 2, step 1", "idea 1, the ends", "the convention strip"."""
    if name in ("the convention strip", "conventions"):
        return "chapter.conventions()" in text
    head, _, rest = name.partition(", ")
    number = re.fullmatch(r"idea (\d)", head)
    found = marks(idea(text, number[1]) if number else text)
    return all(any(bare(word) in one for one in found) for word in ([rest] if number and rest else [head, rest] if rest else [head]))


def idea(text, number):
    """The part of a text from the heading of an idea to that of the next one, or to a heading that is as high."""
    start = re.search(rf"^(#+) Idea {number}\b.*$", text, re.MULTILINE)
    if start is None:
        return ""
    end = re.search(rf"^#{{1,{len(start[1])}}} ", text[start.end() :], re.MULTILINE)
    return text[start.start() :] if end is None else text[start.start() : start.end() + end.start()]


@cache
def marks(text):
    """What can be found at a glance: headings, bold words, and steps, in small letters."""
    return [one.lower() for one in re.findall(r"^#+ .*$|\*\*[^*]+\*\*|\bstep \d+\w?\b.*$", text, re.MULTILINE)]


def bare(words):
    """Words in small letters without an article."""
    return ARTICLES.sub("", words.lower())
