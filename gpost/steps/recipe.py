"""Config files and the steps they name, checked and ready to use."""

from __future__ import annotations

import hashlib
import inspect
import json
from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import cached_property
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from gpost.common.filenames import fits, own_config
from gpost.common.plain import shown
from gpost.common.records import record
from gpost.config.load import LoadedConfig, load_config
from gpost.config.model import Config
from gpost.config.sheet import TickList
from gpost.errors import ConfigError
from gpost.steps.making import make_steps
from gpost.steps.manager import build_manager
from gpost.steps.step import Step

ONLY_FOR_A_REST = {"machine": {"home_with_piece"}}
"""What of a config counts only where a stopped print goes on."""


@record(frozen=True)
class Recipe:
    """A checked config and its steps, made."""

    config: Config
    steps: tuple[Step[Any], ...]
    owners: tuple[str, ...]
    """Who each step comes from: a distribution's name or a file's path."""
    files: tuple[Path, ...] = ()
    """The config files that it was read from."""
    folders: tuple[Path, ...] = ()
    """The folders named beside them, with steps of the potter's own."""
    studio: int = 0
    """How many of the files, from the first on, are the studio's."""
    texts: tuple[str, ...] = ()
    """What stood in the files; with no file, the one text that it was read from."""

    @cached_property
    def fingerprint(self) -> str:
        """SHA-256 over the config and what its files loosen, the steps' settings, and their code."""
        return self._sha256({"steps"})

    @cached_property
    def of_print(self) -> str:
        """The same without what only a reader sees: a print hangs on none of it."""
        return self._sha256({"steps", "sheet"})

    @cached_property
    def for_a_rest(self) -> str:
        """And without what counts only where a stopped print goes on, and may be said then."""
        return self._sha256({"steps": True, "sheet": True, **ONLY_FOR_A_REST})

    def as_before(self, sheet: TickList) -> tuple[str, str]:
        """What an earlier gpost had for the last two, with what there was to tick off."""
        before = replace(self, config=self.config.model_copy(update={"sheet": sheet}))
        since = {"steps": True, "sheet": {"rest"}}  # there were no ticks of a rest's own
        return before._sha256(since), before._sha256({**since, **ONLY_FOR_A_REST})

    def _sha256(self, left_out: Any) -> str:
        said = [_stable(self.config.model_dump(mode="json", exclude=left_out))]
        said += self.config.origin.loosened
        said += self._identities
        return hashlib.sha256("\n".join(said).encode()).hexdigest()

    @cached_property
    def _identities(self) -> list[str]:
        """The steps', once for all: the code of each is looked for in its file, and its owner's version."""
        return [_identity(step, owner) for step, owner in zip(self.steps, self.owners, strict=True)]

    def allowing(self, allow: Collection[str]) -> str:
        """The fingerprint of a job that goes on in spite of these findings; of none, the recipe's own."""
        if not allow:
            return self.fingerprint
        return hashlib.sha256("\n".join([self.fingerprint, *sorted(set(allow))]).encode()).hexdigest()


def read_recipe(
    configs: Sequence[Path], folders: Sequence[Path] = (), *, studio: Sequence[Path] = ()
) -> Recipe:
    """The recipe in the config files, later ones over earlier ones; steps may also come from `folders`.

    `studio`: the files that say what the machine may do, as for `load_config`. Raises ConfigError with a line
    for each problem.
    """
    return make_recipe(load_config(configs, studio=studio), folders)


def make_recipe(loaded: LoadedConfig, folders: Sequence[Path] = ()) -> Recipe:
    """The recipe of a config that has been read. Raises ConfigError as `read_recipe` does."""
    registry = build_manager(folders)
    steps = tuple(make_steps(loaded, registry.load(loaded.step_names), registry.broken))
    owners = tuple(registry.owners.get(step.name, "") for step in steps)
    files = tuple(map(Path, loaded.files)) if loaded.in_files else ()
    texts = tuple(text for _, text in loaded.texts)
    return Recipe(loaded.config, steps, owners, files, tuple(folders), loaded.studio, texts)


def recipe_of(piece: Path, common: Recipe, loaded: LoadedConfig, folders: Sequence[Path] = ()) -> Recipe:
    """The recipe of one piece of a folder: `vase.yaml` beside `vase.gcode` lies over the common config.

    `loaded`: the config of `common`, which is the piece's recipe if it has no config of its own. Raises
    ConfigError as `read_recipe` does, and for a link that leads out of the folder.
    """
    own = own_config(piece)
    if not fits(own.name):
        return common
    if own.is_symlink() and own.resolve().parent != piece.parent.resolve():
        said = "is a link that leads out of the folder; put the config itself there"
        raise ConfigError(f"{shown(own.name)} {said}")
    short = own.with_suffix(".yml")
    if short.is_file() and not own.is_file():
        raise ConfigError(
            f"{shown(short.name)} is not read; a piece's own config ends with .yaml, so rename it"
        )
    return make_recipe(loaded.under(own), folders) if own.is_file() else common


def _identity(step: Step[Any], owner: str) -> str:
    """What changes when a step would work in another way: settings, version of its owner, its own code."""
    try:
        release = version(owner)
    except (PackageNotFoundError, ValueError):
        release = ""
    try:
        code = inspect.getsource(inspect.getmodule(type(step)) or type(step))
    except (OSError, TypeError):
        code = ""
    return _stable([step.name, owner, release, step.settings.model_dump(mode="json"), code])


def _stable(value: object) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=True)
