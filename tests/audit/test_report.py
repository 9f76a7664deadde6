"""The report as JSON, as text, and against a baseline."""

import json
import math

import pytest

from rigkit import audit
from rigkit.audit import finding
from tests.audit import broken

POOR = broken.BROKEN["bend_side"][0]


@pytest.fixture(scope="module")
def report():
    return audit.examine(POOR())


def test_json_has_the_documented_form(report):
    read = json.loads(report.json(), parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
    assert read["schema"] == audit.SCHEMA == "rigkit-audit-1"
    assert set(read) == {"schema", "character", "findings", "accepted", "not_examined", "examined", "stale"}
    for found in read["findings"]:
        assert set(found) == {"rule", "severity", "where", "value", "limit", "unit", "what", "why", "do", "point"}
        assert found["severity"] in ("fault", "look")
        assert isinstance(found["limit"], (int, float)) or len(found["limit"]) == 2
    for row in read["not_examined"]:
        assert set(row) == {"rule", "where", "reason"}
    side = next(found for found in read["findings"] if found["rule"] == "bend_side")
    assert side["limit"] == [0.0, None]  # an open end


def test_faults_come_first_and_the_worst_of_a_rule_first(report):
    severities = [found.severity for found in report]
    assert severities == sorted(severities, key=("fault", "look").index)
    for rule in report.broken:
        worst = [finding.excess(found) for found in report.of(rule)]
        assert worst == sorted(worst, reverse=True)


def test_the_text_says_what_how_much_where_why_and_what_to_do(report):
    text = audit.text(report)
    found = report.findings[0]
    for words in (found.rule, found.where, found.what, "why", "do", "not examined"):
        assert words in text
    assert max(map(len, text.splitlines())) <= 220


def test_long_lists_are_cut_unless_all_is_asked_for():
    report = audit.examine(broken.placed(move=(0, 0.05, 0)), {"names": {"pattern": "no"}})
    assert "and 41 more" in audit.text(report)
    assert "and 41 more" not in audit.text(report, every=True)


def test_names_can_not_steer_a_terminal():
    report = audit.examine(broken.renamed("left_eye_joint", "left_\x1b[2Jeye_joint\nfake: no finding"))
    assert "\x1b" not in audit.text(report) and "\nfake" not in audit.text(report)


def baseline(report, reason="known", **changes):
    return {"accepted": [{"rule": f.rule, "where": f.where, "value": f.value, "reason": reason} | changes for f in report]}


def test_a_baseline_accepts_what_it_lists(report):
    again = audit.examine(POOR(), baseline=baseline(report))
    assert list(again) == [] and len(again.accepted) == len(report)
    assert {found.accepted for found in again.accepted} == {"known"}
    assert again.stale == ()


def test_a_finding_that_grew_worse_is_open_again(report):
    before = audit.examine(broken.elbows_moved(1.5), baseline=None)
    known = [f for f in before if f.rule == "bend_side"]
    again = audit.examine(POOR(), baseline=baseline(known))
    assert len(again.of("bend_side")) == 2
    milder = audit.examine(broken.elbows_moved(1.4), baseline=baseline(known))
    assert milder.of("bend_side") == []


def test_an_entry_that_nothing_matches_is_told():
    again = audit.examine(broken.healthy(), baseline={"accepted": [{"rule": "prebend", "where": "left_knee_joint", "reason": "soon"}]})
    assert list(again) == [] and again.stale[0]["where"] == "left_knee_joint"
    assert "found no more" in audit.text(again)


@pytest.mark.parametrize(
    "given, told",
    [
        ({"accepted": [{"rule": "prebend", "where": "x"}]}, "entry 1 has no reason"),
        ({"accepted": [{"rule": "prebend", "where": "x", "reason": "  "}]}, "entry 1 has no reason"),
        ({"accepted": [{"rule": "prebent", "where": "x", "reason": "y"}]}, "did you mean 'prebend'"),
        ({"accepted": [{"rule": "prebend", "were": "x", "reason": "y"}]}, "did you mean 'where'"),
        ({"accepted": [{"rule": "prebend", "where": "x", "reason": "y", "value": "3"}]}, "expected a number"),
        ({"accept": []}, "'accept' is not expected"),
        ({"accepted": {"rule": "x"}}, "expected .*entries"),
    ],
)
def test_a_slip_in_a_baseline_is_told(given, told):
    with pytest.raises(ValueError, match=told):
        audit.examine(broken.bare(), baseline=given)


def test_the_baseline_template_wants_reasons_and_then_accepts(report, tmp_path):
    text = audit.baseline_template(report)
    path = tmp_path / "baseline.toml"
    path.write_text(text)
    with pytest.raises(ValueError, match="has no reason"):
        audit.examine(POOR(), baseline=path)
    path.write_text(text.replace('reason = ""', 'reason = "the next version"'))
    assert list(audit.examine(POOR(), baseline=path)) == []


def test_progress_is_told_rule_by_rule():
    seen = []
    audit.examine(broken.bare(), progress=lambda rule, number, count: seen.append((rule, number, count)))
    assert [rule for rule, *_ in seen] == list(audit.RULES) and seen[-1][1:] == (len(seen) - 1, len(seen))


def test_values_beyond_a_limit():
    assert finding.beyond(math.inf, 5.0) and finding.beyond(math.nan, 5.0) and not finding.beyond(5.0, 5.0)
    assert finding.beyond(-1.0, (0.0, math.inf)) and not finding.beyond(1e9, (0.0, math.inf))
