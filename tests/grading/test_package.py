"""The box's copy of the package: it runs the chapters' notebooks and holds nothing that hands an answer over."""

import ast
import subprocess
import sys
from dataclasses import replace

import pytest

from rigkit.course import chapters
from rigkit.grading import marking, package
from tests.grading.conftest import earned


@pytest.fixture(scope="module", params=chapters.ids())
def copy(request, tmp_path_factory):
    """(chapter, the folder of its copy)."""
    chapter = chapters.get(request.param)
    return chapter, package.build(chapter, str(tmp_path_factory.mktemp("copies")))


def inside(folder, code):
    """What a program prints that sees the copy in place of the package."""
    start = f"import sys; sys.path[:0] = [{str(folder)!r}]; import rigkit as rk; from rigkit.course.closed import ClosedBook\n"
    done = subprocess.run([sys.executable, "-c", start + code], capture_output=True, text=True, timeout=60, cwd=folder, check=True)
    return done.stdout.strip()


def test_no_check_no_worked_answer_and_no_robot_is_in_it(copy):
    """Neither as a module nor as text: claims, planned mistakes, hints and the table of dimensions stay outside."""
    chapter, folder = copy
    names = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    assert not [
        name for name in names if "chapters" in name or "grading" in name or "tally" in name or name.endswith((".toml", ".csv", ".ipynb"))
    ]
    assert {name for name in names if name.startswith("rigkit/course/") and name.endswith(".py")} == {
        f"rigkit/course/{name}.py" for name in ("__init__", "checkpoint", "closed", "collect", "forms", "notebook")
    }
    text = "\n".join((folder / name).read_text(encoding="utf-8") for name in names if name.endswith(".py"))
    for checkpoint in chapter.checkpoints:
        assert checkpoint.hint not in text
        assert not [mistake.name for mistake in checkpoint.mistakes if mistake.diagnosis in text]
        assert not [claim.id for claim in checkpoint.claims if claim.text in text]


def test_everything_a_chapter_closes_raises_in_the_copy(copy):
    """By whatever way the function is reached."""
    from rigkit.course.closed import functions

    chapter, folder = copy
    closed = sorted(
        {
            (function.__module__, function.__qualname__)
            for checkpoint in chapter.checkpoints
            for name in checkpoint.closed
            for _, function in functions(name)
            if function.__code__.co_filename.endswith(".py") and function.__name__ != "<lambda>"
        }
    )  # not those a dataclass makes, nor a link's one-line lists of what it reads and drives: a lambda has no name to call it by
    code = (
        "import importlib, operator\n"
        f"for module, name in {closed!r}:\n"
        "    function = operator.attrgetter(name)(importlib.import_module(module))\n"
        "    function = getattr(function, 'fget', getattr(function, '__func__', function))\n"
        "    names = function.__code__.co_argcount\n"
        "    try:\n        function(*range(names))\n    except ClosedBook as error:\n        print(error)\n"
    )
    told = inside(folder, code).splitlines()
    assert len(told) == len(closed)


QUARTER = "[0, 0, 0.5 ** 0.5, 0.5 ** 0.5]"  # a turn by 90 degrees about z


def test_what_is_not_closed_computes_as_before(copy):
    """Turning a point by 90 degrees; in a chapter about turns, whose book on them is closed, by a joint that turns the next one."""
    chapter, folder = copy
    if any(name.partition(".")[0] == "rotation" for checkpoint in chapter.checkpoints for name in checkpoint.closed):
        posed = f"rk.Skeleton(['a', 'b'], [-1, 0], [[0, 0, 0], [1, 0, 0]]).forward([{QUARTER}, [0, 0, 0, 1]]).positions[1]"
    else:
        posed = "rk.rotation.rotate(rk.rotation.from_axis_angle([0, 0, 1], 3.141592653589793 / 2), [1, 0, 0])"
    assert inside(folder, f"print({posed}.round(6).tolist())") == "[0.0, 1.0, 0.0]"


def test_the_robot_can_not_be_built_in_the_copy(copy):
    """It knows the true joint positions; a chapter hands out what its notebook may know."""
    _, folder = copy
    assert inside(folder, "try:\n    rk.tally(3)\nexcept ClosedBook as error:\n    print(error)") == "robot.tally"


def test_the_viewer_takes_every_call_and_shows_nothing(copy):
    """Cells that look must not stop a graded notebook."""
    _, folder = copy
    assert (
        inside(
            folder, "v = rk.view.Viewer(None, caption='x'); v.show(); v.look('front').more[3]; print(repr(v), list(v.code), [*v.target])"
        )
        == "[] []"
    )


SOURCE = '''
def free(x):
    return x

def taken(x, *more, key=1, **rest):
    """Kept words."""
    return x

class Plane:
    def flip(self):
        return 1

    @property
    def normal(self):
        return 2
'''


@pytest.mark.parametrize(
    ("names", "raising"),
    [
        ({"taken"}, {"taken"}),
        ({"Plane"}, {"Plane.flip", "Plane.normal"}),
        ({"Plane.flip"}, {"Plane.flip"}),
        ({""}, {"free", "taken", "Plane.flip", "Plane.normal"}),
        (set(), set()),
    ],
)
def test_names_close_functions_methods_classes_and_whole_modules(names, raising):
    """Signature and docstring stay."""
    source = package.closed_source(SOURCE, names, "toy")
    assert {
        node.args[0].value.removeprefix("toy.")
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "ClosedBook"
    } == raising
    assert "def taken(x, *more, key=1, **rest):" in source and "Kept words." in source


@pytest.mark.box
def test_a_cell_of_ours_that_shows_what_is_closed_is_no_trouble_of_the_learners(run, monkeypatch):
    ours, theirs = "rig = rk.tally_rig(3)", "rig = rk.tally_rig(4)"
    monkeypatch.setattr(marking, "_printed", lambda file: {ours: None})
    graded = run(ours, theirs, "1 / 0")
    assert set(graded.errors) == {2, 3} and graded.errors[2].startswith("closed book") and "robot.rig.tally_rig" in graded.errors[2]


@pytest.mark.box
def test_an_answer_from_an_earlier_chapter_is_ours_in_the_box(run, tiny_chapter, monkeypatch):
    using = replace(tiny_chapter, uses=("01.2", "01.5"))
    known = chapters.get
    monkeypatch.setattr(chapters, "get", lambda one, printed=False: using if one == "90" else known(one, printed))
    graded = run(
        "loop_centre = chapter.earlier('01.2')\nhip = chapter.earlier('01.5')['left_hip']",
        "def middle(a, b):\n    assert loop_centre([[0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0]])[0] == 1\n    return (np.asarray(a) + b) / 2 + 0 * hip",
    )
    assert not graded.errors and earned(graded)["90.1"] == 3
