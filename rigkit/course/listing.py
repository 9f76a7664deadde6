"""All checkpoints as plain data, for programs that read them (`rigkit checkpoints --json`)."""

from rigkit.course import chapters

SCHEMA = "rigkit-checkpoints-1"


def catalogue():
    """Return {"schema": ..., "checkpoints": [...]} with the claims and planned mistakes of every checkpoint; points are exact ("3")."""
    return {"schema": SCHEMA, "checkpoints": [_entry(chapter, checkpoint) for chapter in chapters.ids()
                                              for checkpoint in chapters.get(chapter).checkpoints]}


def _entry(chapter, checkpoint):
    return {
        "id": checkpoint.id,
        "chapter": chapter,
        "title": checkpoint.title,
        "kind": checkpoint.kind,
        "core": checkpoint.core,
        "points": str(checkpoint.points),
        "answers": [{"name": name, "form": getattr(form, "expected", "")} for name, form in checkpoint.names.items()],
        "claims": [{"id": claim.id, "text": claim.text, "points": str(claim.points), "tolerance": claim.tolerance} for claim in checkpoint.claims],
        "mistakes": [{"name": mistake.name, "diagnosis": mistake.diagnosis, "misses": list(mistake.misses)} for mistake in checkpoint.mistakes],
    }
