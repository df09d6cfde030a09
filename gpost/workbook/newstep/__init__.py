"""`gpost new-step`: an installable package with a step of one's own, to begin with."""

from __future__ import annotations

import shutil
import tempfile
from importlib.resources import files
from pathlib import Path
from string import Template

from gpost import __version__
from gpost.common.layout import laid_out
from gpost.common.plain import shown
from gpost.errors import ConfigError, OutputError
from gpost.steps.manager import StepRegistry, is_step_name

FILES = {
    "pyproject.toml": "pyproject.toml.txt",
    "README.md": "README.md.txt",
    "src/$module/__init__.py": "module.py.txt",
    "src/$module/py.typed": "",
    "tests/test_$module.py": "test_module.py.txt",
    ".gitignore": "",
}
"""What is written, and from which file of ours."""
TEXTS = {".gitignore": "*.egg-info/\n__pycache__/\nbuild/\ndist/\n"}


def write_package(name: str, folder: Path, registry: StepRegistry, width: int | None = None) -> str:
    """Write the package of a new step into a folder that is not there yet, or empty; returns what to do next.

    Raises ConfigError for a name that no step can have or that one has, OutputError for the folder.
    """
    _check_name(name, registry)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise OutputError(f"{shown(folder)} is there already, and not an empty folder; name another")
    module = f"gpost_{name.replace('-', '_')}"
    kind = "".join(part.capitalize() for part in module.removeprefix("gpost_").split("_"))
    given = {"name": name, "module": module, "kind": kind, "version": __version__}
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        _write(folder, given)
    except OSError as error:
        raise OutputError(f"{shown(folder)} can't be written: {error.strerror}") from error
    said = (
        f"The step {name} is in {shown(folder)}: what it does stands in src/{module}/__init__.py.",
        f"Next, in that folder: pip install -e '.[test]', then pytest. `gpost explain {name}` shows it.",
    )
    return laid_out(said, width)


def _check_name(name: str, registry: StepRegistry) -> None:
    if not is_step_name(name) or not name[-1].isalnum():
        raise ConfigError(
            f"{shown(name)} can't be a step's name: small letters, digits, - and _, such as glaze-dip"
        )
    if name in registry.load_all():
        raise ConfigError(
            f"there is a step {name} already, from {registry.owners[name]}; choose another name"
        )


def _write(folder: Path, given: dict[str, str]) -> None:
    """Beside its place first, so that it is there whole or not at all."""
    work = Path(tempfile.mkdtemp(dir=folder.parent, prefix=".gpost-"))
    try:
        whole = work / "package"
        for target, source in FILES.items():
            path = whole / Template(target).substitute(given)
            path.parent.mkdir(parents=True, exist_ok=True)
            text = (
                (files(__name__) / "files" / source).read_text("utf-8") if source else TEXTS.get(target, "")
            )
            path.write_text(Template(text).substitute(given), "utf-8")
        whole.rename(folder)
    finally:
        shutil.rmtree(work, ignore_errors=True)
