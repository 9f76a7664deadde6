"""The build: two copies from one text, the same bytes every time, nothing in them that differs from run to run."""

import json

import pytest

from rigkit.course import build
from rigkit.course.build import OutputFault

TEXT = """\
# 42 A small text

Read on.

```python
import os
print("hello", os.environ["RIGKIT_OUTPUT"], os.listdir("."))
answer = ...
```

```python copy="learner"
answer = ...
```

```python copy="worked"
answer = 42
```

<!-- #region copy="worked" -->
Only in the worked copy.
<!-- #endregion -->

```python
answer
```

```python
print("same")
```

```python
print("same")
```
"""


def written(folder, text=TEXT, name="42-small.md"):
    texts = folder / "workbooks" / "text"
    texts.mkdir(parents=True, exist_ok=True)
    (texts / name).write_text(text, encoding="utf-8")
    return texts


def read(path):
    return json.loads(path.read_text(encoding="utf-8"))


def sources(path):
    return ["".join(cell["source"]) for cell in read(path)["cells"]]


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    texts = written(tmp_path_factory.mktemp("course"))
    changed = build.build(build.texts(texts))
    return texts.parent, changed


def test_both_copies_are_written(built):
    workbooks, changed = built
    assert changed == [workbooks / "42-small.ipynb", workbooks / "worked" / "42-small.ipynb"]


def test_a_marked_cell_goes_to_its_copy_alone(built):
    workbooks, _ = built
    learner, worked = sources(workbooks / "42-small.ipynb"), sources(workbooks / "worked" / "42-small.ipynb")
    assert "answer = ..." in learner and "answer = 42" not in learner and "Only in the worked copy." not in learner
    assert "answer = 42" in worked and "answer = ..." not in worked and "Only in the worked copy." in worked


def test_outputs_are_plain_text_from_a_clean_folder(built):
    workbooks, _ = built
    cells = [cell for cell in read(workbooks / "worked" / "42-small.ipynb")["cells"] if cell["cell_type"] == "code"]
    assert cells[0]["outputs"] == [{"name": "stdout", "output_type": "stream", "text": ["hello text []\n"]}]
    assert cells[2]["outputs"] == [{"data": {"text/plain": ["42"]}, "execution_count": 3, "metadata": {}, "output_type": "execute_result"}]
    assert [cell["execution_count"] for cell in cells] == [1, 2, 3, 4, 5]


def test_nothing_in_a_copy_tells_when_or_where_it_was_built(built):
    workbooks, _ = built
    found = read(workbooks / "42-small.ipynb")
    assert found["metadata"] == build._NOTEBOOK_METADATA and found["metadata"]["kernelspec"]["name"] == "python3"
    assert all(cell["metadata"] == {} for cell in found["cells"])
    ids = [cell["id"] for cell in found["cells"]]
    assert len(set(ids)) == len(ids)


def test_building_twice_gives_the_same_bytes(built):
    workbooks, _ = built
    before = {path: path.read_bytes() for path in workbooks.rglob("*.ipynb")}
    assert build.build(build.texts(workbooks / "text")) == []
    assert build.out_of_step(build.texts(workbooks / "text"), everything=True) == []
    assert before == {path: path.read_bytes() for path in workbooks.rglob("*.ipynb")}


def test_a_new_cell_changes_no_other_cells_id(built, tmp_path):
    workbooks, _ = built
    text = written(tmp_path, TEXT.replace("Read on.", "Read on.\n\n```python\nnew = 1\n```")) / "42-small.md"
    old = {cell["id"] for cell in read(workbooks / "42-small.ipynb")["cells"]}
    new = {cell["id"] for cell in json.loads(build.notebook(text, "learner", run=False))["cells"]}
    assert len(new - old) == 1 and old < new


def test_what_is_out_of_step_is_named(built, tmp_path):
    workbooks, _ = built
    texts = written(tmp_path)
    for copy in ("", "worked/"):
        target = tmp_path / "workbooks" / f"{copy}42-small.ipynb"
        target.parent.mkdir(exist_ok=True)
        target.write_bytes((workbooks / f"{copy}42-small.ipynb").read_bytes())
    assert build.out_of_step(build.texts(texts), everything=True, run=False) == []
    target.write_text(target.read_text().replace("answer = 42", "answer = 43"))
    (tmp_path / "workbooks" / "17-old.ipynb").write_text("{}")
    lines = build.out_of_step(build.texts(texts), everything=True, run=False)
    assert len(lines) == 2 and "worked copy" in lines[0] and "answer = 43" in lines[0] and lines[1] == "17-old.ipynb has no text"
    target.unlink()
    assert "missing" in build.out_of_step(build.texts(texts), run=False)[0]


@pytest.mark.parametrize(("cell", "told"), [
    ("1 / 0", "ZeroDivisionError"), ("import sys\nprint('x', file=sys.stderr)", "stderr"), ("print(object())", "address"), ("object()", "address"),
    ("0.1 + 0.2 - 0.3", "rounding noise"), ("import os\nprint(os.getcwd())", "path"),
])
def test_an_output_that_cannot_be_committed_is_named(cell, told, tmp_path):
    texts = written(tmp_path, f"# 42\n\n```python\n{cell}\n```\n")
    with pytest.raises(OutputFault, match=told):
        build.build(build.texts(texts))
    assert not list(tmp_path.rglob("*.ipynb"))


def test_a_chapter_without_a_text_is_an_error(tmp_path):
    with pytest.raises(ValueError, match="no text for chapter 77"):
        build.texts(written(tmp_path), ids=["77"])


def test_the_committed_copies_are_in_step_with_their_texts():
    """What people wrote; nbval runs the copies and compares their outputs."""
    assert build.out_of_step(build.texts(), everything=True, run=False) == []


def test_the_committed_copies_carry_no_widgets_and_no_pictures():
    for text in build.texts():
        for copy in build.COPIES:
            found = read(build.target(text, copy))
            assert set(found["metadata"]) == {"kernelspec", "language_info"}
            outputs = [output for cell in found["cells"] for output in cell.get("outputs", ())]
            assert all(set(output.get("data", {"text/plain": ""})) == {"text/plain"} for output in outputs)
