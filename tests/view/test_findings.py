"""An audit's findings in the viewer: the list, the eye that turns there, and what is said about each."""

from dataclasses import replace

import numpy as np
import pytest

import rigkit as rk
from rigkit.audit.finding import Finding, Report
from rigkit.skeleton import Skeleton
from rigkit.view import Viewer, findings_panel
from tests.browser_support import image


@pytest.fixture(scope="module")
def robot():
    """Tally with its left elbow 30 mm in front of where the sleeve folds."""
    tally = rk.tally()
    skeleton = tally.skeleton
    moved = np.array(skeleton.rest_translations)
    moved[skeleton.index("left_elbow_joint")] += [0, 0, 0.03]
    return replace(tally, skeleton=Skeleton(skeleton.names, skeleton.parents, moved, skeleton.rest_rotations))


@pytest.fixture(scope="module")
def report(robot):
    return rk.audit.examine(robot)


@pytest.fixture
def viewer(robot, report):
    made = Viewer(robot, "What the audit found")
    made.findings(report)
    yield made
    made.close()


def test_every_finding_is_listed_with_its_severity_as_word_and_shape(viewer, report):
    lines = [text for text, _ in viewer._panel._list.options]
    assert len(lines) == len(report) > 3
    for number, (told, found) in enumerate(zip(lines, report)):
        assert told.startswith(f"{number + 1} ") and found.severity in told and found.where in told
        assert findings_panel.LOOK[found.severity][2] in told


def test_choosing_one_turns_the_eye_there_and_says_value_limit_why_and_what_to_do(viewer, report):
    number = next(k for k, one in enumerate(report) if one.where == "left_elbow_joint" and one.rule == "joint_centre")
    found = report.findings[number]
    viewer._panel._list.value = number  # as a click or an arrow key does
    x, y, depth = viewer.eye.pixels(np.array(found.point), viewer.size)
    assert (x, y) == pytest.approx((320, 250)) and depth > 0
    assert viewer.eye.back[0] > 0.3  # the left elbow is looked at from the left
    rows = dict(viewer._all_rows())
    assert rows["value"] == "30 mm" and rows["limit"].startswith("at most") and rows["why"] == found.why and rows["do"] == found.do
    assert found.why in viewer._panel._said.value and viewer._status_text.startswith(
        f"look {number + 1} of {len(report)}, left_elbow_joint"
    )
    shown = image(viewer.picture(fine=1))
    assert (np.abs(shown[200:300, 270:370] - [0xF0, 0xE4, 0x42]).max(axis=2) < 12).sum() > 100  # its circle


def test_next_and_previous_go_round_and_one_without_a_place_shows_the_whole(viewer, report):
    panel = viewer._panel
    panel.step(-1)
    assert panel.at == len(report) - 1
    panel.step(1)
    assert panel.at == 0 == panel._list.value
    viewer.finding(2)
    assert panel.at == 1
    with pytest.raises(ValueError, match=f"number is 0; expected 1 to {len(report)}"):
        viewer.finding(0)


def finding(**other):
    told = {
        "rule": "some_rule",
        "severity": "fault",
        "where": "body_drum",
        "value": 2.0,
        "limit": 1.0,
        "unit": "mm",
        "what": "a <b>fault</b>",
    }
    return Finding(**told | {"why": "because", "do": "mend it"} | other)


def test_a_part_is_tinted_and_markup_stays_text(robot):
    viewer = Viewer(robot)
    viewer.findings(Report("made up", (finding(), finding(where="nowhere"))))
    assert viewer.figure.tinted == {"body_drum"} and "it has no one place" in viewer.text()
    assert "<b>fault" not in viewer._panel._said.value and "border-left:4px solid" in viewer._panel._said.value
    viewer.finding(2)
    assert viewer.figure.tinted == set()
    viewer.done()
    with pytest.raises(ValueError, match="call viewer.findings"):
        viewer.finding(1)
    viewer.close()


def test_a_clean_report_says_so(robot):
    viewer = Viewer(robot)
    viewer.findings(Report("clean", examined={"one": 1, "two": 5}))
    assert viewer.text().endswith("nothing is beyond its limit; 2 rules measured something")
    viewer._panel.step(1)
    viewer.close()
