"""gpost as it is installed, on each Python that there is, without a checkout: from the wheel, and from the sdist."""

from __future__ import annotations

import re
import shutil
import sys
import tarfile
import tomllib
from pathlib import Path

import pytest

from gpost import __version__
from gpost.demo.folder import RECIPES, make_demo
from gpost.steps.manager import build_manager
from tests.packages.artefacts import ROOT, Shop, build, new_shop, pythons, ran

STRANGERS = ROOT / "tests/plugins/strangers"
USE = "steps: [lean, {dwell: {every_layers: 20}}]\n"


def _files(folder: Path) -> dict[str, bytes]:
    """The files of a folder by their names; where the folder's own place is told, it is left out."""
    place = str(folder.resolve()).encode()
    return {path.name: path.read_bytes().replace(place, b".") for path in folder.iterdir()}


def test_the_wheel_is_all_that_is_needed(shop: Shop, tmp_path: Path) -> None:
    """README's way, from the first file on, by what is installed; the demo's files are this source's own, byte for byte."""
    assert re.fullmatch(rf"gpost {__version__}; reader: (\w+), writer: \1\n", shop.gpost("--version"))
    where = ran(shop.python, "-c", "import gpost, gpost_plugins; print(gpost.__file__, gpost_plugins.__path__)", folder=shop.folder)
    assert where.count("site-packages") == 2
    make_demo(tmp_path / "demo-class")
    shop.gpost("demo", "demo-class")
    assert _files(shop.folder / "demo-class") == _files(tmp_path / "demo-class")
    for recipe in RECIPES:
        shop.gpost("demo", f"shown-{recipe}", "--recipe", recipe)
    shutil.copy(shop.folder / "demo-class/twisted-bottle.gcode", shop.folder / "vase.gcode")
    shutil.copy(shop.folder / "shown-two-colours/two-colours.yaml", shop.folder)
    assert "studio.yaml" in shop.gpost("init", "--bed", "280 280", "--metering", "filament 1.75")
    shop.gpost("survey", "vase.gcode", "-c", "studio.yaml")
    configs = ("-c", "studio.yaml", "-c", "two-colours.yaml")
    shop.gpost("run", "vase.gcode", *configs, "-o", "vase-run.gcode", "--json", "vase.json", "--page", "vase.html")
    assert "gpost: " in (shop.folder / "vase-run.gcode").read_text("utf-8")


def test_without_a_compiler_columns_do_the_same(source: Path, tmp_path: Path) -> None:
    """What is built where nothing can be compiled says so, and gives the demo's files byte for byte."""
    shop = new_shop(sys.executable, tmp_path / "shop")
    shop.pip("install", build(source, tmp_path / "wheel", "wheel", CC="false"))
    assert shop.gpost("--version") == f"gpost {__version__}; reader: columns, writer: columns\n"
    make_demo(tmp_path / "demo-class")
    shop.gpost("demo", "demo-class")
    assert _files(shop.folder / "demo-class") == _files(tmp_path / "demo-class")


def test_the_oldest_libraries_that_it_asks_for_do(source: Path, tmp_path: Path) -> None:
    """With the very versions that pyproject.toml begins with it writes the same files, and says the same of every step and key."""
    shop = new_shop(sys.executable, tmp_path / "shop")
    oldest = tmp_path / "oldest.txt"
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    oldest.write_text("\n".join(line.replace(">=", "==") for line in asked))
    shop.pip("install", "-c", oldest, build(source, tmp_path / "wheel", "wheel"))
    make_demo(tmp_path / "demo-class")
    shop.gpost("demo", "demo-class")
    assert _files(shop.folder / "demo-class") == _files(tmp_path / "demo-class")
    for name in build_manager().names:
        assert shop.gpost("explain", name) == ran(sys.executable, "-m", "gpost", "explain", name, folder=tmp_path)


def test_the_rest_comes_with_it(shop: Shop) -> None:
    """Pages, words of steps and keys, the schema, a package to begin a step with, and the types."""
    assert "What changed" in shop.gpost("guide")
    assert "# A first piece" in ran(shop.python, "-c", "import gpost.guide.pages as p; print(p.page_text('tutorial'))", folder=shop.folder)
    assert "fan" in shop.gpost("steps")
    assert "volume_ml" in shop.gpost("explain", "cartridge")
    assert '"$schema"' in shop.gpost("schema")
    shop.gpost("new-step", "dip", "dip")
    found = ran(shop.python, "-c", "import gpost.report as r; print(*__import__('importlib.resources').resources.files(r).iterdir())", folder=shop.folder)
    assert "summary.schema.json" in found
    typed = ran(shop.python, "-c", "import gpost, gpost_plugins as g, pathlib as p; print([p.Path(m.__path__[0], 'py.typed').is_file() for m in (gpost, g)])", folder=shop.folder)
    assert typed == "[True, True]\n"


def test_a_pattern_takes_its_extra(shop: Shop) -> None:
    """Installed without it, gpost refuses a pattern with what to do, and does the rest as ever."""
    assert not shop.has("google-re2")
    (shop.folder / "by-comments.yaml").write_text("layers: {comment_pattern: '^;ring'}\n")
    (shop.folder / "any.gcode").write_text("G1 X10 Y10 Z2 E5 F600\nG1 X50 E5\n")
    said = shop.gpost("survey", "any.gcode", "-c", "by-comments.yaml", status=2)
    assert "gpost[pattern]" in said
    shop.gpost("survey", "any.gcode")


def test_packages_of_strangers_live_beside_each_other(shop: Shop, tmp_path: Path) -> None:
    """Two wheels by others: installed, listed, run to the file that their code gives from a folder, and taken out again."""
    before = shop.gpost("steps")
    shop.gpost("demo", "strangers")
    piece = "strangers/twisted-bottle.gcode"
    (shop.folder / "others.yaml").write_text(USE)
    (shop.folder / "folder").mkdir()
    for name in ("lean", "dwell"):
        package = shutil.copytree(STRANGERS / name, tmp_path / name, ignore=shutil.ignore_patterns("*.egg-info", "build"))
        shutil.copy(package / f"gpost_{name}.py", shop.folder / "folder")
    run = ("run", piece, "-c", "others.yaml")
    assert "lean" in shop.gpost(*run, "-o", "refused.gcode", status=2)
    shop.gpost(*run, "--steps-from", "folder", "-o", "from-folder.gcode")
    for name in ("lean", "dwell"):
        shop.pip("install", build(tmp_path / name, tmp_path / f"{name}-wheel", "wheel"))
    listed = shop.gpost("steps")
    assert all(name in listed and name not in before for name in ("gpost-lean", "gpost-dwell"))
    shop.gpost(*run, "-o", "installed.gcode")
    installed = (shop.folder / "installed.gcode").read_bytes()
    assert installed == (shop.folder / "from-folder.gcode").read_bytes()
    assert len(re.findall(rb"^G4 P60000$", installed, re.MULTILINE)) >= 3
    shop.pip("uninstall", "-y", "gpost-dwell")
    said = shop.gpost(*run, "-o", "refused.gcode", status=2)
    assert "dwell" in said
    assert "gpost-lean" in shop.gpost("steps")
    shop.pip("uninstall", "-y", "gpost-lean")
    assert shop.gpost("steps") == before
    assert not (shop.folder / "refused.gcode").exists()


def test_a_clashing_package_costs_nothing(shop: Shop, tmp_path: Path) -> None:
    """A wheel with a second `fan` is refused by name: the stock one stays, and one that can't be imported is told of."""
    before = shop.gpost("steps")
    code = (STRANGERS / "dwell/gpost_dwell.py").read_text("utf-8")
    for name, text in (("clash", code.replace('name = "dwell"', 'name = "fan"')), ("broken", "raise RuntimeError('no')\n")):
        folder = tmp_path / name
        folder.mkdir()
        (folder / f"gpost_{name}.py").write_text(text)
        project = (STRANGERS / "dwell/pyproject.toml").read_text("utf-8").replace("dwell", name)
        (folder / "pyproject.toml").write_text(project.replace(f'{name} = "gpost', 'fan = "gpost') if name == "clash" else project)
        shop.pip("install", build(folder, tmp_path / f"{name}-wheel", "wheel"))
    listed = shop.gpost("steps")
    assert all(line in listed for line in before.splitlines() if line.strip())
    assert "gpost-clash" in listed
    assert "gpost-broken" in listed
    shop.gpost("demo", "with-clash")
    for name in ("clash", "broken"):
        shop.pip("uninstall", "-y", f"gpost-{name}")
    assert shop.gpost("steps") == before


SOME = ("tests/docs", "tests/configs", "tests/steps", "tests/demo", "tests/packages", "tests/workbook/newstep", "tests/test_calls.py")
"""Tests that look at the files beside the code; the rest of the suite is collected, and run with `--long`."""


def test_the_sdist_passes_its_own_tests(python: str, sdist: Path, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    """Unpacked where nothing else is, and installed as README says."""
    with tarfile.open(sdist) as tar:
        tar.extractall(tmp_path, filter="data")
    (source,) = tmp_path.iterdir()
    shop = new_shop(pythons()[python], tmp_path / "shop")
    ran(shop.python, "-m", "pip", "install", "-q", "-e", ".[test]", folder=source)
    pytest_words = (shop.python, "-m", "pytest", "-q", "-p", "no:cacheprovider")
    assert " tests collected" in ran(*pytest_words, "--collect-only", folder=source).splitlines()[-1]
    whole = request.config.getoption("--long")
    said = ran(*pytest_words, *(() if whole else SOME), folder=source)
    assert re.search(r"^\d+ passed", said.splitlines()[-1])
