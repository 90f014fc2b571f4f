"""Data runs one way: no package imports a later one, and each heavy library stays in few packages."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "profiles"

FLOOR = ("arrays", "errors", "units", "notes", "sharing", "solver", "setting")

MAY_IMPORT = {
    "values": (),
    "arrays": (),
    "errors": (),
    "units": (),
    "notes": ("units",),
    "sharing": ("units",),
    "interrupts": (),
    "handover": (),
    "workers": ("interrupts", "handover"),
    "solver": ("arrays",),
    "setting": ("errors", "units"),
    "hull": FLOOR,
    "blocks": (*FLOOR, "hull"),
    "cuts": (*FLOOR, "hull", "blocks"),
    "foam": (*FLOOR, "hull", "blocks"),
    "body": (*FLOOR, "hull", "blocks", "foam"),
    "paper": (*FLOOR, "hull", "blocks", "foam", "body", "interrupts"),
    "pictures": (*FLOOR, "hull", "blocks", "body", "paper"),
    "drafting": (*FLOOR, "hull", "blocks", "body", "paper", "pictures"),
    "book": (*FLOOR, "hull", "blocks", "foam", "body", "paper", "pictures"),
    "layout": (*FLOOR, "hull", "blocks", "body", "paper", "pictures"),
    "job": (*FLOOR, "hull", "blocks", "cuts", "foam", "body", "paper", "drafting"),
    "jobfile": (*FLOOR, "cuts", "foam", "job", "jobfaults"),
    "jobfaults": (*FLOOR, "foam", "job", "jobfile"),
    "built": (*FLOOR, "blocks", "layout"),
    "parting": (*FLOOR, "hull", "blocks", "job"),
    "build": (
        *FLOOR,
        "hull",
        "blocks",
        "cuts",
        "body",
        "foam",
        "paper",
        "drafting",
        "layout",
        "job",
        "built",
        "parting",
        "proposing",
    ),
    "comparing": (*FLOOR, "hull", "blocks", "foam", "pictures", "layout", "job", "build"),
    "proposing": (*FLOOR, "hull", "blocks", "foam", "job", "parting", "build", "comparing"),
    "report": (*FLOOR, "hull", "blocks", "body", "foam", "paper", "job", "build"),
    "results": (
        *(*FLOOR, "hull", "blocks", "body", "paper", "drafting", "layout", "job", "build", "report", "book"),
        "bookfacts",
    ),
    "joining": (*FLOOR, "hull", "blocks", "paper", "build", "book"),
    "bookfacts": (*FLOOR, "joining", "blocks", "body", "foam", "paper", "pictures", "layout", "build", "book"),
    "folder": (*FLOOR, "interrupts"),
    "catalogue": (
        *(
            *FLOOR,
            "interrupts",
            "workers",
            "hull",
            "cuts",
            "paper",
            "layout",
            "job",
            "jobfile",
            "build",
            "report",
            "results",
        ),
        "folder",
    ),
    "demos": ("errors",),
    "options": (*FLOOR, "hull", "blocks", "body", "foam", "paper", "drafting", "job"),
    "console": (
        *(*FLOOR, "interrupts", "hull", "blocks", "foam", "body", "paper", "book", "build", "comparing"),
        "proposing",
        "demos",
        "catalogue",
    ),
    "cli": (
        *(*FLOOR, "job", "jobfile", "build", "report", "results", "folder", "options", "console", "paper", "pictures"),
        *("comparing", "proposing", "foam", "body", "demos", "interrupts", "workers", "desk", "catalogue"),
    ),
    "desk": (
        *(
            *FLOOR,
            "hull",
            "blocks",
            "cuts",
            "foam",
            "body",
            "paper",
            "pictures",
            "book",
            "layout",
            "job",
            "jobfile",
            "build",
        ),
        *("comparing", "proposing", "report", "results", "demos", "options", "workers"),
    ),
    "entry": ("interrupts", "cli"),
    "__main__": ("entry",),
    "__init__": ("hull", "blocks", "cuts", "foam", "body", "paper", "drafting", "layout", "results"),
}
"""Package or module -> what it may import, and `values`. The command line stands last; nothing imports it."""

ONLY_IN = {
    "trimesh": {"hull"},
    "svgelements": {"hull"},
    "svgwrite": {"paper"},
    "cairosvg": {"paper"},
    "manifold3d": {"cuts"},
    "highspy": {"solver"},
    "ezdxf": {"paper"},
    "pikepdf": {"paper"},
    "pypdfium2": {"paper"},
    "pydantic": {"jobfaults"},
    "rich": {"console"},
    "click": {"cli", "options"},
    "starlette": {"desk"},
    "uvicorn": {"desk"},
}

MODULES = sorted(ROOT.rglob("*.py"))


def package(path: Path) -> str:
    first = path.relative_to(ROOT).parts[0]
    return first.removesuffix(".py")


def imported(path: Path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
            names |= {f"{node.module}.{alias.name}" for alias in node.names if node.module == "profiles"}
        elif isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
    return names


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_only_packages_before_it(path: Path) -> None:
    """A module imports its own package and earlier ones."""
    own = package(path)
    targets = {name.split(".")[1] for name in imported(path) if name.startswith("profiles.")} - {"__version__"}
    assert targets <= {own, "values", *MAY_IMPORT[own]}, f"{path.name} imports {targets}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_heavy_libraries_stay_in_their_packages(path: Path) -> None:
    """Each library of input and output is used in one package."""
    used = {name.split(".")[0] for name in imported(path)}
    strays = {library for library in used & ONLY_IN.keys() if package(path) not in ONLY_IN[library]}
    assert not strays


def names_from_hull(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    imports = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    return {f"{node.module}.{alias.name}" for node in imports for alias in node.names}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_triangles_stay_in_hull(path: Path) -> None:
    """After reading, a body is a Shape: no other package asks a surface, or cuts one."""
    triangles = {
        "profiles.hull.surface.Surface",
        "profiles.hull.sections.section",
        "profiles.hull.mesh_shape.MeshShape",
    }
    assert package(path) == "hull" or not triangles & names_from_hull(path)


def test_the_check_can_fail(tmp_path: Path) -> None:
    """A module that imports a later package is found."""
    stray = tmp_path / "stray.py"
    stray.write_text("from profiles.paper.drawing import Role\nfrom profiles import cli\n", encoding="utf-8")
    assert {"profiles.paper.drawing", "profiles.cli"} <= imported(stray)
    assert "paper" not in MAY_IMPORT["hull"]
