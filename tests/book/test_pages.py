"""The pages: every chapter there is, its headings, its folded answers, nothing from elsewhere, nothing left dangling."""

import json
import re
from html.parser import HTMLParser

import pytest

from rigkit import book, cli
from rigkit.book import cells, site, text
from rigkit.course import chapters
from rigkit.files import shared

VOID = {"meta", "link", "img", "br", "hr", "input"}


class Page(HTMLParser):
    """What a test asks of a page: its elements with their attributes, its ids, and whether every element is closed."""

    def __init__(self, source):
        super().__init__()
        self.elements, self.open, self.faults = [], [], []
        self.feed(source)
        self.faults += [f"<{tag}> is never closed" for tag in self.open if tag != "p" and tag != "li"]

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if self.open and self.open[-1] == tag:
            self.open.pop()
        elif tag not in VOID:
            self.faults.append(f"</{tag}> closes {self.open[-1] if self.open else 'nothing'}")

    def having(self, tag, **wanted):
        return [own for name, own in self.elements if name == tag and all(own.get(key.rstrip("_")) == value for key, value in wanted.items())]


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The whole book: the folder, and what was said while it was written."""
    out, said = tmp_path_factory.mktemp("book"), []
    book.build(out, say=said.append)
    return out, said


def notebook(chapter, *folder):
    return json.loads(shared("workbooks", *folder, chapter.file).read_text(encoding="utf-8"))


def there():
    return [chapter for chapter in map(chapters.get, chapters.ids()) if site._worked(chapter)]


@pytest.mark.slow
def test_every_chapter_has_its_page_and_the_index_its_row(whole):
    out, said = whole
    index = (out / "index.html").read_text(encoding="utf-8")
    assert len(there()) >= 3 and len(said) == len(there())
    for chapter in there():
        points = sum(one.points for one in chapter.checkpoints)
        assert re.search(rf'href="{re.escape(chapter.file.replace(".ipynb", ".html"))}">.*?<td>{chapter.minutes}</td><td>{points}</td>', index, re.S)
        assert (out / chapter.file.replace(".ipynb", ".html")).exists()


@pytest.mark.slow
def test_a_chapters_headings_and_checkpoints_are_all_on_its_page(whole):
    for chapter in there():
        page = (whole[0] / chapter.file.replace(".ipynb", ".html")).read_text(encoding="utf-8")
        shown = [words for *_, words in text.headings(page)]
        wanted = [re.sub(r"[`*]", "", line.lstrip("# ").strip()) for cell in notebook(chapter)["cells"] if cell["cell_type"] == "markdown"
                  for line in re.sub(r"```.*?```", "", "".join(cell["source"]), flags=re.S).split("\n") if re.match(r"#{1,6} ", line)]
        assert wanted == [re.sub(r"[`*]", "", words) for words in shown]
        assert {one.id for one in chapter.checkpoints} == set(re.findall(r'id="checkpoint-([0-9.]+)"', page))


@pytest.mark.slow
def test_our_answers_are_folded_and_nowhere_else(whole):
    """A line of code that only the worked copy has stands inside a folded part, for every chapter."""
    for chapter in there():
        page = (whole[0] / chapter.file.replace(".ipynb", ".html")).read_text(encoding="utf-8")
        learner, worked = (["".join(cell["source"]) for cell in notebook(chapter, *folder)["cells"] if cell["cell_type"] == "code"] for folder in ((), ("worked",)))
        ours = [source for source in worked if source not in learner]
        folded = re.findall(r'<details class="worked"><summary>Our answer</summary>\n<pre class="code" tabindex="0"><code>(.*?)</code></pre>', page, re.S)
        assert [text.plain(one) for one in folded] == [source.strip() for source in ours]
        assert "open" not in set().union(*(own for own in Page(page).having("details", class_="worked")))


@pytest.mark.slow
def test_nothing_is_asked_of_another_machine(whole):
    """No address in any element that loads, in the styles or the scripts; and the page tells the browser to refuse such a thing."""
    for path in [*whole[0].rglob("*.html"), *whole[0].rglob("*.js"), *whole[0].rglob("*.css")]:
        source = path.read_text(encoding="utf-8")
        assert not re.search(r"https?:|//[a-z0-9-]+\.[a-z]", re.sub(r"^\s*//.*$", "", source, flags=re.M)), path.name
        assert "@import" not in source and not re.search(r"url\((?!data:)", source)
        if path.suffix == ".html":
            policy = next(own["content"] for own in Page(source).having("meta") if own.get("http-equiv") == "Content-Security-Policy")
            assert policy.startswith("default-src 'none'") and "connect-src" not in policy


@pytest.mark.slow
def test_what_a_page_names_is_there_and_every_element_is_closed(whole):
    out = whole[0]
    for path in out.glob("*.html"):
        page = Page(path.read_text(encoding="utf-8"))
        assert page.faults == [], path.name
        ids = [own["id"] for _, own in page.elements if "id" in own]
        assert len(ids) == len(set(ids)), path.name
        for tag, own in page.elements:
            for address in filter(None, (own.get("src"), own.get("href"))):
                name, _, part = address.partition("#")
                assert not name or (out / name).is_file(), f"{path.name}: {address}"
                assert name or part in ids, f"{path.name}: {address}"
            assert tag != "img" or own.get("alt"), path.name


@pytest.mark.slow
def test_every_scene_has_its_data_and_a_still_picture_for_where_no_script_runs(whole):
    for chapter in there():
        source = (whole[0] / chapter.file.replace(".ipynb", ".html")).read_text(encoding="utf-8")
        page = Page(source)
        told = json.loads(re.search(r'<script type="application/json" id="rigkit-scenes">(.*?)</script>', source, re.S)[1])
        figures = page.having("figure", class_="scene")
        assert figures and sorted(int(own["data-scene"]) for own in figures) == list(range(len(told["scenes"])))
        assert source.count("<noscript><img ") == len(figures)
        loaded = {own["src"] for own in page.having("script") if "src" in own}
        for one in told["scenes"]:
            assert one["model"] is None or f"assets/model-{one['model']}.js" in loaded
        assert all((whole[0] / own["src"]).read_bytes().startswith(b"\x89PNG") for own in page.having("img"))


@pytest.mark.slow
def test_the_list_of_files_is_what_was_written_and_none_is_large(whole):
    listed = json.loads((whole[0] / site.LIST).read_text())["files"]
    found = sorted(str(path.relative_to(whole[0])) for path in whole[0].rglob("*") if path.is_file() and path.name != site.LIST)
    assert listed == found
    assert max(path.stat().st_size for path in whole[0].rglob("*") if path.is_file()) < 1.5e6


def cell(kind, source, out=""):
    outputs = [{"output_type": "stream", "name": "stdout", "text": out}] if out else []
    return {"cell_type": kind, "source": source, "outputs": outputs} if kind == "code" else {"cell_type": kind, "source": source}


def test_a_cell_that_prints_something_else_with_our_answers_keeps_it_folded():
    learner = {"cells": [cell("markdown", "# A"), cell("code", "x = ..."), cell("code", "print(1)", "1\n"), cell("code", "print(x)", "Ellipsis\n")]}
    worked = {"cells": [cell("markdown", "# A"), cell("code", "x = 3"), cell("code", "print(1)", "1\n"), cell("code", "print(x)", "3\n")]}
    found = cells.blocks(learner, worked, [[], [["text", "1\n"]], [["text", "3\n"]]])
    assert [(one.kind, one.source, one.outputs, one.folded) for one in found] == [
        ("text", "# A", (), False), ("task", "x = ...", (), False), ("worked", "x = 3", (), True),
        ("code", "print(1)", (("text", "1\n"),), False), ("code", "print(x)", (("text", "3\n"),), True)]


@pytest.mark.parametrize("source", ["so $a = b$ holds", "$$x$$", r"\(x\)"])
def test_mathematical_notation_is_refused_not_shown_raw(source):
    with pytest.raises(ValueError, match="mathematical notation"):
        text.markdown(source, set())


def test_dollars_in_code_and_prices_are_no_notation():
    assert "<code>$a$</code>" in text.markdown("take `$a$` for $5 or $6", set())


def test_a_folder_with_other_files_is_left_alone(tmp_path, capsys):
    (tmp_path / "thesis.txt").write_text("mine")
    assert cli.main(["book", str(tmp_path)]) == 3
    assert "holds other files" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["thesis.txt"]


def test_an_unknown_chapter_is_named(tmp_path, capsys):
    assert cli.main(["book", str(tmp_path / "out"), "--chapter", "99"]) == 3
    assert "there is no chapter '99'" in capsys.readouterr().err


def test_a_cell_that_stops_is_told_with_its_source(tmp_path):
    import subprocess
    import sys

    (tmp_path / "broken.ipynb").write_text(json.dumps({"cells": [cell("code", "1 / 0")]}))
    run = subprocess.run([sys.executable, "-m", "rigkit.book.record", str(tmp_path / "broken.ipynb"), str(tmp_path / "out.json")], capture_output=True, text=True)
    assert run.returncode == 1 and "code cell 1 stopped with ZeroDivisionError" in run.stderr and "1 / 0" in run.stderr
