"""Who may import whom, beyond what the import-linter contracts in pyproject.toml say (those are run here too)."""

from __future__ import annotations

import ast
from pathlib import Path

import grimp
import pytest
from importlinter.cli import lint_imports

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "cutvision"
MODULES = sorted(PACKAGE.rglob("*.py"))

ALLOWED_OUTSIDE = {  # room -> packages beside numpy, each directly; the rooms and reasons are told in DEVELOPERS.md
    "errors": set(),
    "version": set(),
    "units": set(),
    "plane": set(),
    "files": set(),
    "uncertainty": {"scipy"},
    "target": {"cv2", "PIL", "reportlab"},
    "correction": {"scipy"},
    "imaging": {"cv2", "skimage", "scipy", "PIL", "pillow_heif", "pydantic"},
    "measurement": {"scipy", "threadpoolctl"},
    "logbook": {"platformdirs"},
    "reports": {"PIL", "matplotlib", "jinja2", "reportlab"},
    "jobs": set(),
    "api": set(),
    "cli": {"typer"},
    "__main__": set(),
}
OPENCV_DOORS = {"imaging/opencv.py", "target"}
SHARED_WITH_SIMULATION = {"cutvision.imaging", "cutvision.imaging.camera", "cutvision.imaging.photo"}


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    """The package's import graph with the outside packages in it."""
    return grimp.build_graph("cutvision", include_external_packages=True, cache_dir=None)


def room_of(path: Path) -> str:
    """The top-level name a module belongs to."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def test_the_contracts_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every import-linter contract in pyproject.toml is kept."""
    monkeypatch.chdir(ROOT)
    assert lint_imports(no_cache=True) == 0


def test_each_room_uses_only_its_own_outside_packages(graph: grimp.ImportGraph) -> None:
    """No room reaches for a package that the table does not grant it."""
    outside = {name for name in graph.modules if not name.startswith("cutvision")}
    import_names = {"numpy", "cv2", "skimage", "scipy", "PIL", "pillow_heif", "reportlab", "pydantic", "typer"}
    third_party = {name for name in outside if name in import_names | set().union(*ALLOWED_OUTSIDE.values())}
    for path in MODULES:
        room = room_of(path)
        if room == "__init__":
            continue
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        used = graph.find_modules_directly_imported_by(name) & third_party
        granted = ALLOWED_OUTSIDE[room] | (set() if room == "cli" else {"numpy"})
        assert used <= granted, f"{name} imports {used - granted}"


def test_the_renderer_knows_no_finder() -> None:
    """Scenes are rendered without any code that finds or fits, so that no test proves a thing by itself.

    The photo's module decodes files through OpenCV's door; the renderer itself does not go through it.
    """
    graph = grimp.build_graph("cutvision", "simulation", cache_dir=None)
    renderer = {name for name in graph.find_descendants("simulation") if not name.startswith("simulation.test_")}
    named, reached = (
        {
            module
            for simulated in renderer
            for module in imported(simulated)
            if module.startswith(("cutvision.imaging", "cutvision.measurement"))
        }
        for imported in (graph.find_modules_directly_imported_by, graph.find_upstream_modules)
    )
    assert named <= SHARED_WITH_SIMULATION
    assert reached <= SHARED_WITH_SIMULATION | {"cutvision.imaging.opencv"}


def test_opencv_has_one_door() -> None:
    """Only the adapter and the marker bits of the sheet import cv2."""
    for path in MODULES:
        place = path.relative_to(PACKAGE)
        if place.as_posix() in OPENCV_DOORS or place.parts[0] in OPENCV_DOORS:
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not [name for name in names if name.split(".")[0] == "cv2"], place


def test_opencv_reads_and_writes_no_files_and_hides_no_markers() -> None:
    """Python reads files (cv2 fails silently on some names); marker and decoding calls stay at the one door."""
    banned = {"imread", "imwrite", "imreadmulti", "imshow"}
    for path in MODULES:
        place = path.relative_to(PACKAGE)
        used = {node.attr for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, ast.Attribute)}
        assert not used & banned, place
        if used & {"aruco", "imdecode"}:
            assert place.as_posix() in OPENCV_DOORS or place.parts[0] in OPENCV_DOORS, place
