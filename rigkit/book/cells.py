"""The learner's copy and the worked copy of a chapter laid into each other, as one list of blocks.

Cells that both copies have stand once. Where a learner fills something in, the
worked cell follows it, folded. What a cell prints is shown openly where it is the
same in both copies; where it is not, it would give an answer away, and is folded too.
"""

from dataclasses import dataclass
from difflib import SequenceMatcher


@dataclass(frozen=True)
class Block:
    """One piece of a page. kind: "text", "code" (in both copies), "task" (the learner's cell) or "worked" (ours, folded).

    source: Markdown or code. outputs: ["text" | "html" | "scene", value] each, of the worked copy but for a "task".
    folded: whether the outputs are kept folded.
    """

    kind: str
    source: str
    outputs: tuple = ()
    folded: bool = False


def blocks(learner, worked, recorded):
    """The Blocks of a chapter: two notebooks as plain data, and the outputs of the worked copy's code cells, in order."""
    left, right = ([(cell["cell_type"], "".join(cell["source"])) for cell in book["cells"]] for book in (learner, worked))
    shown = _by_cell(worked, recorded)
    found = []
    for kind, a, b, c, d in SequenceMatcher(None, left, right, autojunk=False).get_opcodes():
        if kind == "equal":
            found += [_both(learner["cells"][i], worked["cells"][j], shown.get(j, ())) for i, j in zip(range(a, b), range(c, d))]
            continue
        theirs = [_task(cell) for cell in learner["cells"][a:b]]
        ours = [_ours(worked["cells"][j], shown.get(j, ())) for j in range(c, d)]
        for i in range(max(len(theirs), len(ours))):
            found += theirs[i:i + 1] + ours[i:i + 1]
    return found


def printed(cell):
    """What a stored cell prints, as one text."""
    return "".join("".join(o["text"] if "text" in o else o["data"].get("text/plain", "")) for o in cell.get("outputs", ()))


def _both(theirs, ours, shown):
    if ours["cell_type"] != "code":
        return Block("text", "".join(ours["source"]))
    return Block("code", "".join(ours["source"]), tuple(map(tuple, shown)), bool(shown) and printed(theirs) != printed(ours))


def _task(cell):
    told = printed(cell)
    kind = "task" if cell["cell_type"] == "code" else "text"
    return Block(kind, "".join(cell["source"]), (("text", told),) if told and kind == "task" else ())


def _ours(cell, shown):
    kind = "worked" if cell["cell_type"] == "code" else "text"
    return Block(kind, "".join(cell["source"]), tuple(map(tuple, shown)), kind == "worked")


def _by_cell(worked, recorded):
    numbers = [i for i, cell in enumerate(worked["cells"]) if cell["cell_type"] == "code"]
    return dict(zip(numbers, recorded))
