"""The layers of the package, held: an import only ever points down, the maths imports numpy alone, pythreejs stays in view."""

import ast
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "rigkit"

# Highest first. A module may import from the lines below its own, and a package (ending in a dot) within itself.
LAYERS = (
    ("cli",),
    ("book.",),
    ("grading.",),
    ("course.",),
    ("view.",),
    ("audit.", "gltf."),
    ("robot.",),
    ("motion",),
    ("walk",),
    ("acceptance",),
    ("character",),
    ("animation",),
    ("keys",),
    ("posing",),
    ("rig",),
    ("_rig_steps", "_rig_values"),
    ("pose", "links"),
    ("_links_limb", "_links_aim"),
    ("_links_base",),
    ("_limb_rows", "matching"),
    ("limb", "chain", "foot", "gaze", "bend", "placement", "control", "binding", "skinning", "mirror", "symmetry"),
    ("_chain_steps", "_chain_reach"),
    ("_limb_axes", "_limb_fast", "_limb_turns", "_chain_fast", "_chain_state", "_placement_touching", "naming", "outline"),
    ("skeleton", "mesh", "corners", "_rows"),
    ("_mesh_topology",),
    ("frame", "forward"),
    ("rotation",),
    ("euler",),
    ("arithmetic",),
    ("arguments", "words", "files"),
)
# One idea leans on another of its own line here, and only here.
SIDEWAYS = {("skinning", "binding"), ("control", "mirror"), ("symmetry", "mirror"), ("gltf", "audit"), ("audit", "gltf")}
MATHS = {name for layer in LAYERS[LAYERS.index(("motion",)):-1] for name in layer}
ONLY_THERE = {"pythreejs": "view", "ipydatawidgets": "view"}


def rank(module):
    """The line a module stands on, 0 the highest; None for the package itself."""
    head = module.split(".")[0]
    return next((i for i, layer in enumerate(LAYERS) for name in layer if head == name.rstrip(".")), None)


def modules():
    """Every module of the package as (dotted name without the package, path)."""
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        if name:
            yield name, path


def imports(path, module):
    """Every module a file imports, dotted from the top, at whatever depth of the file it does so."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                package = ["rigkit", *module.split(".")]
                package = package if path.name == "__init__.py" else package[:-1]
                base = ".".join(package[: len(package) - node.level + 1] + ([base] if base else []))
            yield from ([f"{base}.{alias.name}" for alias in node.names] if base == "rigkit" else [base])


@pytest.mark.parametrize("module,path", list(modules()), ids=lambda value: value if isinstance(value, str) else "")
def test_imports_point_down(module, path):
    assert rank(module) is not None, f"{module} has no place in LAYERS: give it one"
    for name in imports(path, module):
        if not name.startswith("rigkit."):
            continue
        other = name.removeprefix("rigkit.")
        if other.startswith("__") or rank(other) is None:  # the version, or a name the package re-exports
            continue
        here, there = module.split(".")[0], other.split(".")[0]
        down = rank(other) > rank(module)
        assert down or here == there or (here, there) in SIDEWAYS, f"rigkit.{module} imports rigkit.{other}, which stands beside or above it"


@pytest.mark.parametrize("module", sorted(MATHS))
def test_maths_imports_numpy_alone(module):
    path = PACKAGE / f"{module}.py"
    if not path.exists():
        pytest.skip(f"rigkit/{module}.py is not written yet")
    for name in imports(path, module):
        top = name.split(".")[0]
        assert top in sys.stdlib_module_names or top in ("numpy", "rigkit"), f"rigkit.{module} imports {name}"


@pytest.mark.parametrize("module,path", list(modules()), ids=lambda value: value if isinstance(value, str) else "")
def test_widget_library_stays_in_view(module, path):
    for name in imports(path, module):
        place = ONLY_THERE.get(name.split(".")[0])
        assert place in (None, module.split(".")[0]), f"rigkit.{module} imports {name}, which belongs in rigkit/{place}"


def test_layers_test_sees_an_import_that_points_up(tmp_path):
    """The test above can fail: it finds imports inside functions, relative ones, and names taken from the package."""
    source = "def late():\n    from rigkit.view import Viewer\nfrom . import cli\nfrom rigkit import course\nimport pythreejs.core\n"
    path = tmp_path / "limb.py"
    path.write_text(source)
    found = set(imports(path, "limb"))
    assert {"rigkit.view", "rigkit.cli", "rigkit.course", "pythreejs.core"} <= found
    assert all(rank(name.removeprefix("rigkit.")) < rank("limb") for name in ("rigkit.view", "rigkit.cli", "rigkit.course"))
