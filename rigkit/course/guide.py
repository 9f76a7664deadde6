"""The instructor's table of all checkpoints: workbooks/guide/checkpoints.md, made from the chapters themselves."""

from rigkit.course import chapters


def checkpoints_page():
    """Return the page: every chapter's checkpoints with claims, points, tolerances and planned mistakes."""
    known = [chapters.get(one, printed=True) for one in chapters.ids(printed=True)]
    every = [checkpoint for chapter in known for checkpoint in chapter.checkpoints]
    counts = len(every), sum(len(one.claims) for one in every), sum(len(one.mistakes) for one in every), sum(one.points for one in every)
    lines = ["# All checkpoints", "", "Made from the course by `python -m rigkit.course.build`; [instructors.md](instructors.md) says what to do with it."]
    lines += ["A tolerance with a * can be set in a course file.", ""]
    lines += ["{} checkpoints, {} claims, {} planned mistakes, {} points.".format(*counts), ""]
    for chapter in known:
        lines += [f"## {chapter.id} {chapter.title}", "", f"{chapter.minutes} minutes, {sum(one.points for one in chapter.checkpoints)} points.", ""]
        for checkpoint in chapter.checkpoints:
            lines += _checkpoint(checkpoint)
    return "\n".join(lines).rstrip() + "\n"


def _checkpoint(checkpoint):
    core = "core" if checkpoint.core else "extra"
    lines = [f"### {checkpoint.id} {checkpoint.title}", "", f"{checkpoint.points} points, {checkpoint.kind}, {core}.", ""]
    lines += ["| Claim | Id | Points | Tolerance |", "|---|---|---|---|"]
    lines += [f"| {_cell(one.text)} | `{checkpoint.id}.{one.id}` | {one.points} | {one.tolerance}{' *' if one.settable else ''} |" for one in checkpoint.claims]
    if checkpoint.mistakes:
        lines += ["", "Planned mistakes:", ""]
        lines += [f"- *{one.name}*: {one.diagnosis}" for one in checkpoint.mistakes]
    return [*lines, ""]


def _cell(text):
    return text.replace("|", "\\|")
