"""A chapter as its tests use it: its text, what is known of a variant, and the Result of an answer with the book open."""

import ast
import re
from dataclasses import replace
from functools import cache

from rigkit.course import chapters
from rigkit.course import context as contexts
from rigkit.course.collect import collect
from rigkit.course.judge import judge
from rigkit.files import shared


class Tried:
    """One chapter: `chapter`, its `text`, its `checkpoint` by id."""

    def __init__(self, chapter_id):
        self.chapter = chapters.get(chapter_id)
        self.text = shared("workbooks", "text", f"{chapter_id}-{self.chapter.slug}.md").read_text(encoding="utf-8")
        self.checkpoint = {one.id: one for one in self.chapter.checkpoints}
        self.context = cache(lambda variant: contexts.context(self.chapter, variant))

    def cases_of(self, name, variant=0, seed=None):
        """The cases a checkpoint is tried on."""
        return contexts.cases(self.checkpoint[name], self.context(variant), seed)

    def judged(self, name, namespace, variant=0, seed=None):
        """The Result of the answers in `namespace`."""
        checkpoint, cases = replace(self.checkpoint[name], closed=()), self.cases_of(name, variant, seed)
        return judge(checkpoint, collect(checkpoint, namespace, cases), self.context(variant), cases, strict=True)

    def answered(self, name, answer, variant=0, seed=None):
        """The Result of a function, or of a dict of values."""
        checkpoint = self.checkpoint[name]
        return self.judged(name, dict.fromkeys(checkpoint.names, answer) if checkpoint.kind == "function" else answer, variant, seed)

    def cells(self, *copies):
        """The syntax trees of the text's code cells that go into all copies, and of those for one of `copies` only."""
        fences = re.findall(r"^```python(?: copy=\"(\w+)\")?\n(.*?)^```$", self.text, re.MULTILINE | re.DOTALL)
        return [ast.parse(source) for copy, source in fences if not copy or copy in copies]

    def worked_functions(self):
        """The names of the functions that the worked copy writes, in order; no name of a cell stands in for a line forgotten in one.

        A function sees its notebook's names, so none that it sets itself may be a cell's.
        """
        fences = re.findall(r"^```python copy=\"worked\"\n(.*?)^```$", self.text, re.MULTILINE | re.DOTALL)
        functions = [one for source in fences for one in ast.parse(source).body if isinstance(one, ast.FunctionDef)]
        outside = stored([one for tree in self.cells("worked") for one in tree.body if not isinstance(one, ast.FunctionDef)]) - {"_"}
        for function in functions:
            own = stored([function]) - {one.arg for one in function.args.args}
            assert not own & outside, (function.name, own & outside)
        return [one.name for one in functions]


def missed(result):
    """The ids of the claims that do not hold."""
    return {claim.id for claim in result.claims if claim.outcome != "ok"}


def likely(result):
    """The likely causes told of the claims that do not hold."""
    return {claim.likely for claim in result.claims if claim.outcome != "ok"}


def stored(trees):
    """The names that syntax trees set."""
    return {n.id for tree in trees for n in ast.walk(tree) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
