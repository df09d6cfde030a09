"""What a run was made from, kept with its summary, and looked at again where a stopped print goes on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from pydantic import ValidationError

from gpost.cli.options import STANDARD, Configs
from gpost.common.plain import shown, storable
from gpost.common.prints import size_and_sha256
from gpost.errors import PlanError, SourceError
from gpost.report.model import Summary
from gpost.report.origin import FilePrint, OriginRecord, Print
from gpost.steps.recipe import Recipe, read_recipe

MOST_BYTES = 1 << 26
"""No summary of ours is larger; it bounds memory."""


class Again(NamedTuple):
    """What a stopped print is planned anew from."""

    summary: Summary
    origin: OriginRecord
    source: Path
    configs: Configs
    recipe: Recipe


def origin_of(
    name: str,
    source: Path,
    configs: Configs,
    recipe: Recipe,
    allow: Sequence[str],
    *,
    ask_first: bool = False,
) -> OriginRecord:
    """The record of a run; `name` is where the sliced file lies, or `-` if `source` holds what was piped."""
    return OriginRecord(
        folder=storable(Path.cwd()),
        source=_print(name, source if name == STANDARD else Path(name)),
        configs=tuple(_print(str(path), path) for path in configs.named),
        studio=len(configs.studio),
        recipe_sha256=recipe.fingerprint,
        allow=tuple(allow),
        ask_first=ask_first,
    )


def read_again(path: Path, folders: Sequence[Path]) -> Again:
    """All that the summary at a path was made from, unchanged.

    Raises SourceError for what is no such summary, and PlanError where anything has changed since.
    """
    summary = _summary(path)
    origin = summary.origin
    if origin is None:
        raise PlanError(
            f"{shown(path)} doesn't say what the print was made from; only what `gpost run` "
            "has written with --json can be gone on with"
        )
    if summary.rehearsal_mm is not None or (summary.resume is not None and summary.resume.look):
        raise PlanError(f"{shown(path)} is that of a rehearsal; name the summary of the print")
    if origin.source.path == STANDARD:
        raise PlanError(
            "the sliced file came from standard input and can't be read again; run it from a file"
        )
    source, *named = (_unchanged(origin.folder, file) for file in (origin.source, *origin.configs))
    configs = Configs(tuple(named[: origin.studio]), tuple(named[origin.studio :]))
    recipe = read_recipe(configs.files, folders, studio=configs.studio)
    if recipe.fingerprint != origin.recipe_sha256:
        raise PlanError(
            "the steps work in another way than when the file was made: another gpost, other steps, or "
            "--steps-from is missing; go on with the same"
        )
    return Again(summary, origin, source, configs, recipe)


def _summary(path: Path) -> Summary:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise SourceError(f"{shown(path)} is too large for a summary of gpost's")
        return Summary.model_validate_json(path.read_bytes())
    except OSError as error:
        raise SourceError(f"{shown(path)} can't be read: {error.strerror}") from error
    except ValidationError as error:
        raise SourceError(f"{shown(path)} is no summary that `gpost run --json` has written") from error


def _unchanged(folder: str, file: FilePrint) -> Path:
    """A file as it was. Raises PlanError if it has changed or is gone."""
    path = Path(folder) / file.path
    try:
        size, sha256 = size_and_sha256(path)
    except OSError as error:
        raise PlanError(f"{shown(file.path)}, which the print was made from, can't be read: "
                        f"{error.strerror}; bring it back") from error  # fmt: skip
    if (size, sha256) != (file.state.size_bytes, file.state.sha256):
        raise PlanError(
            f"{shown(file.path)} has changed since the print was made from it, so the rest would not fit "
            "what stands; bring it back as it was"
        )
    return path


def _print(name: str, path: Path) -> FilePrint:
    size, sha256 = size_and_sha256(path)
    return FilePrint(path=storable(name), state=Print(size_bytes=size, sha256=sha256))
