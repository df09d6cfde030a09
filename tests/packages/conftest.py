"""Packages are built and installed with `--packages` alone: it takes minutes, and a network or a store of packages."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.packages.artefacts import EPOCH, Shop, build, copy_source, new_shop, pythons


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """What takes a `python` is tried on each that there is."""
    if "python" in metafunc.fixturenames:
        asked = metafunc.config.getoption("--packages")
        metafunc.parametrize("python", list(pythons()) if asked else ["3"], scope="module", indirect=True)


@pytest.fixture(scope="session")
def packages(request: pytest.FixtureRequest) -> None:
    """Skips all that needs packages unless they are asked for."""
    if not request.config.getoption("--packages"):
        pytest.skip("packages are built and tried with --packages")


@pytest.fixture(scope="session")
def source(packages: None, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the source, and nothing else."""
    return copy_source(tmp_path_factory.mktemp("source"))


@pytest.fixture(scope="session")
def sdist(source: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sdist."""
    return build(source, tmp_path_factory.mktemp("sdist"), "sdist", SOURCE_DATE_EPOCH=EPOCH)


@pytest.fixture(scope="module")
def python(packages: None, request: pytest.FixtureRequest) -> str:
    """A Python of this machine, by its version."""
    return str(request.param)


@pytest.fixture(scope="module")
def shop(python: str, sdist: Path, tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """A fresh environment into which the wheel is installed that this Python builds of the sdist."""
    folder = tmp_path_factory.mktemp(f"python{python}")
    shop = new_shop(pythons()[python], folder / "shop")
    shop.pip("wheel", "--no-deps", "-w", folder / "wheel", sdist)
    (wheel,) = (folder / "wheel").iterdir()
    shop.pip("install", wheel)
    return shop
