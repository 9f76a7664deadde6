"""The page: whole in itself, safe with hostile names, readable without seeing it, and drawn by a real browser."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from rigkit import audit
from rigkit.audit import subject
from rigkit.view.audit_page import page
from tests import settings
from tests.audit import broken

HOSTILE = "</title><script>alert(1)</script>\"' onload=x \u202e\x00"


@pytest.fixture(scope="module")
def poor():
    character = broken.reposed(broken.bare(), {"left_elbow_joint": (0, 0, 0.02), "centre_head_joint": (0.004, 0, 0)})
    return replace(character, name=f"Poor {HOSTILE}")


@pytest.fixture(scope="module")
def text(poor):
    return page(audit.examine(poor), poor)


class Seen(HTMLParser):
    """The tags of a page with their attributes; every one that is opened must be closed."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.open = [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag not in ("meta", "image", "path"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def all(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]


def test_every_tag_is_closed_and_there_is_no_script(text):
    seen = Seen(text)
    assert seen.open == [] and seen.all("script") == []
    assert not any(name.startswith("on") for _, attributes in seen.tags for name in attributes)
    assert "<script" not in text and "&lt;script&gt;" in text


def test_nothing_is_fetched(text):
    links = re.findall(r"(?:href|src)=\"([^\"]*)\"", text) + re.findall(r"url\(([^)]*)\)", text)
    assert links and all(link.startswith(("#", "data:image/png;base64,")) for link in links)
    assert "default-src 'none'" in text


def test_pictures_and_tables_are_told_in_words(text):
    seen = Seen(text)
    pictures = [a for a in seen.all("svg") if "aria-hidden" not in a]
    assert pictures and all(a.get("role") == "img" and len(a["aria-label"]) > 10 for a in pictures)
    assert len(seen.all("caption")) == len(seen.all("table"))
    assert all("scope" in a for a in seen.all("th"))
    assert len(seen.all("h1")) == 1 and seen.all("html")[0]["lang"] == "en"


def test_the_page_says_every_finding_why_and_what_to_do(poor, text):
    for found in audit.examine(poor):
        for words in (found.rule, found.where, found.why, found.do):
            assert words.replace("'", "&#x27;") in text
    assert "Not examined" in text and "Within the limit" in text


def test_a_subject_and_a_cycle_have_a_page_too():
    ring = broken.ring_of_parents()
    assert "form a cycle" in page(audit.examine(ring), ring)
    lone = replace(subject.of(broken.bare()), skins=(), loops={})
    assert "Audit of" in page(audit.examine(lone), lone)


@pytest.mark.browser
@pytest.mark.slow
def test_a_browser_shows_the_page_with_its_pictures_and_marks(text, tmp_path):
    from playwright.sync_api import sync_playwright

    path = tmp_path / "audit.html"
    path.write_text(text, encoding="utf-8")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=settings.chromium(), args=["--no-sandbox"])
        tab = browser.new_page(viewport={"width": 1000, "height": 900})
        trouble = []
        tab.on("console", lambda message: trouble.append(message.text))
        tab.on("pageerror", lambda error: trouble.append(str(error)))
        tab.on("request", lambda request: request.url.startswith(("file:", "data:")) or trouble.append(request.url))
        tab.goto(path.as_uri())
        shown = tab.locator("section.rule svg").first
        box = shown.bounding_box()
        colours = _colours(shown.screenshot())
        narrow = (tab.set_viewport_size({"width": 380, "height": 800}), tab.evaluate("document.documentElement.scrollWidth"))[1]
        browser.close()
    assert trouble == []
    assert box["width"] > 300 and box["height"] > 250
    assert len(colours) > 500  # the model is drawn, shaded
    assert any(abs(r - 213) < 12 and abs(g - 94) < 12 and b < 12 for r, g, b in colours) or any(
        r > 225 and g > 215 and b < 90 for r, g, b in colours
    )
    assert narrow <= 380


def _colours(png):
    import io

    from matplotlib.image import imread

    picture = (imread(io.BytesIO(png))[..., :3] * 255).astype(int)
    return {tuple(pixel) for row in picture.tolist() for pixel in row}
