"""The checkpoint boxes of a chapter's text: what a learner reads about points before trying."""

import re

from rigkit.files import shared

HEAD = re.compile(r"^> \*\*Checkpoint (\d\d\.\d) · (.+?)\*\* · (\d+) points$", re.MULTILINE)
CLAIM = re.compile(r"^> - .*?\((\d+) points?[,)]", re.MULTILINE)


def boxes(chapter):
    """Return (id, title, points, [points of each claim]) of every box in the text of a Chapter."""
    text = shared("workbooks", "text", f"{chapter.id}-{chapter.slug}.md").read_text(encoding="utf-8")
    heads = list(HEAD.finditer(text))
    found = []
    for head in heads:
        box = text[head.end() :].split("\n\n", 1)[0] if "\n\n" in text[head.end() :] else text[head.end() :]
        found.append((head[1], head[2], int(head[3]), [int(n) for n in CLAIM.findall(box)]))
    return found


def promised(chapter):
    """The same, from the checkpoints themselves."""
    return [(one.id, one.title, one.points, [claim.points for claim in one.claims]) for one in chapter.checkpoints]
