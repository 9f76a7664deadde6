"""The list of checkpoints for programs: plain JSON with everything promised."""

import json
from fractions import Fraction

from rigkit.course import catalogue, chapters


def test_the_catalogue_is_json_and_names_every_checkpoint():
    told = json.loads(json.dumps(catalogue()))
    assert told["schema"] and {one["id"] for one in told["checkpoints"]} == set(chapters.all_checkpoints())
    for one in told["checkpoints"]:
        assert {"id", "title", "kind", "points", "claims", "mistakes"} <= set(one)
        assert Fraction(one["points"]) == sum(Fraction(claim["points"]) for claim in one["claims"])
