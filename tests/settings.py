"""Settings every test run shares, loaded first (`-p tests.settings` in pyproject.toml).

Panels and viewers print as text, so that the notebooks' stored outputs compare; Jupyter and IPython read no settings of
the person who runs the tests; what needs a browser or a box says so and is skipped where there is none, but fails in CI.
"""

import os
import re
import shutil
import tempfile
from functools import cache

import pytest
from hypothesis import settings

settings.register_profile("rigkit", deadline=None)  # a busy machine is no failure; what is slow shows in the benchmarks
settings.load_profile("rigkit")

TOGETHER = {
    "boxes": ("tests/grading/", "tests/benchmarks/test_bench_grading.py"),
    "browsers": (
        "tests/browser/", "tests/view/test_in_browser.py", "tests/view/test_motion_in_browser.py", "tests/book/", "tests/audit/test_page.py",
        "tests/benchmarks/test_bench_view.py"),
}
FIRST = ("browsers", "boxes", "tests/test_readme.py")  # the longest groups

_HOME = tempfile.TemporaryDirectory(prefix="rigkit-tests-")
os.environ |= {
    "RIGKIT_OUTPUT": "text",
    "JUPYTER_WIDGETS_ECHO": "0",
    "IPYTHONDIR": f"{_HOME.name}/ipython",
    "JUPYTER_CONFIG_DIR": f"{_HOME.name}/jupyter",
    "MPLBACKEND": "agg",
    "MPLCONFIGDIR": f"{_HOME.name}/matplotlib",
}


def in_ci():
    """Whether this is a CI run, where a missing browser or box is a failure."""
    return os.environ.get("CI", "").lower() in ("1", "true", "yes")


@cache
def chromium():
    """The path of the system's Chromium, or None."""
    names = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
    return next(filter(None, map(shutil.which, names)), None)


@cache
def box_trouble(way=""):
    """Why submissions can't be confined on this machine, or "" where they can; way: "warm", "bubblewrap" or "landlock", where one is meant."""
    from rigkit.grading import box, bubblewrap, landlock, warm

    return {"": box, "warm": warm, "bubblewrap": bubblewrap, "landlock": landlock}[way].trouble()


def pytest_configure(config):
    """With -n: whole groups to each process, in our order."""
    if getattr(config.option, "numprocesses", None):
        config.option.dist, config.option.loadscopereorder = "loadscope", False


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Share the items out by group: what must not run side by side stays in one process."""
    from xdist.scheduler import LoadScopeScheduling

    class Groups(LoadScopeScheduling):
        def _split_scope(self, nodeid):
            return group(nodeid)

    return Groups(config, log)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Give slow items time; the longest groups come first."""
    for item in items:
        if item.get_closest_marker("slow") and not item.get_closest_marker("timeout"):
            item.add_marker(pytest.mark.timeout(600))
    items.sort(key=lambda item: FIRST.index(name) if (name := group(item.nodeid)) in FIRST else len(FIRST))


def group(nodeid):
    """The group whose items one process runs, in order: boxes (they count processes and seconds), browsers, else the file."""
    file = nodeid.split("::")[0]
    if file.endswith("test_all_checkpoints.py"):  # the largest file: a group a chapter
        chapter = re.search(r"\[(\d\d)", nodeid)
        return f"{file} {chapter[1]}" if chapter else file
    return next((name for name, places in TOGETHER.items() if file.startswith(places)), file)


def pytest_runtest_setup(item):
    """Skip, or fail in CI, what this machine can't run."""
    if item.get_closest_marker("browser") and chromium() is None:
        missing("no Chromium on this machine; install the package chromium to run the browser tests")
    for marker in item.iter_markers("box"):
        for why in filter(None, map(box_trouble, marker.args or ("",))):
            missing(f"submissions can't be confined here: {why}")


def missing(why):
    """Skip the test, or in CI fail it: `why` says what this machine lacks."""
    if in_ci():
        pytest.fail(f"in CI this may not be skipped: {why}", pytrace=False)
    pytest.skip(why)
