"""What a run was made from, kept with its summary, and looked at again where a stopped print goes on."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import ValidationError

from gpost import __version__
from gpost.common.plain import restored, shown, storable
from gpost.common.prints import size_and_sha256
from gpost.config.load import load_text
from gpost.config.model import Config
from gpost.config.sheet import TickList
from gpost.errors import PlanError, SourceError
from gpost.report.model import Summary
from gpost.report.origin import DayRecord, FilePrint, OriginRecord, Print
from gpost.steps.askfirst import AskFirst, Called, with_question
from gpost.steps.recipe import Recipe, make_recipe, read_recipe
from gpost.steps.step import Step
from gpost.supply.names import Names
from gpost.write.inputs import Input, Inputs, reading

PIPED = "-"
"""The sliced file's name where it came from standard input."""
MOST_BYTES = 1 << 26
"""No summary of ours is larger; it bounds memory."""


class Again(NamedTuple):
    """What a stopped print is planned anew from."""

    summary: Summary
    origin: OriginRecord
    source: Path
    configs: tuple[Path, ...]
    recipe: Recipe
    path: Path
    """Of the summary's file."""

    @property
    def inputs(self) -> Inputs:
        """All that is read for it: nothing of it is written over."""
        others = [Input("the summary", self.path)]
        return reading(self.source, configs=self.configs, folders=self.recipe.folders, others=others)

    @property
    def config(self) -> Config:
        """The config of that print: a day has said what was in the first cartridge."""
        day, config = self.origin.day, self.recipe.config
        return config if day is None else config.beginning(day.first_ml, day.called[0].number)

    @property
    def steps(self) -> list[Step[Any]]:
        """The steps of that print, with what it asks for at its start."""
        day = self.origin.day
        if day is None:
            return with_question(self.recipe.steps, ask_first=self.origin.ask_first)
        called = [Called(cartridge.number, cartridge.load_ml) for cartridge in day.called]
        return [*self.recipe.steps, AskFirst(called, [Names(day.clays_known, day.clays_used)])]


def origin_of(
    source: Path,
    recipe: Recipe,
    *,
    state: Print | None = None,
    allow: Collection[str] = (),
    ask_first: bool = False,
    day: DayRecord | None = None,
) -> OriginRecord:
    """The record of a run; names that don't begin at the root count from the folder that we are in.

    `state`: of the sliced file, if it is known. Raises SourceError for a file that can't be read any more.
    """
    try:
        return OriginRecord(
            folder=storable(Path.cwd()),
            source=FilePrint(path=storable(source), state=_state(source) if state is None else state),
            configs=tuple(map(_config, recipe.files, recipe.texts)),
            config_text=None if recipe.files or not recipe.texts else recipe.texts[0],
            studio=recipe.studio,
            recipe_sha256=recipe.of_print,
            rest_sha256=recipe.for_a_rest,
            allow=tuple(allow),
            ask_first=ask_first,
            day=day,
        )
    except OSError as error:
        raise SourceError(f"{shown(error.filename)} can't be read again: {error.strerror}") from error


def read_again(path: Path, folders: Sequence[Path]) -> Again:
    """All that the summary at a path was made from, unchanged.

    Raises SourceError for what is no such summary, and PlanError where anything has changed since.
    """
    summary = _summary(path)
    origin = summary.origin
    if origin is None:
        raise PlanError(
            f"{shown(path)} doesn't say what the print was made from, so it can't be gone on with: an "
            "earlier gpost has written it, or it was told to leave that out (origin=False)"
        )
    if summary.dry:
        raise PlanError(f"{shown(path)} is that of a rehearsal; name the summary of the print")
    if origin.source.path == PIPED:
        raise PlanError(
            "the sliced file came from standard input and can't be read again; run it from a file"
        )
    places = (Path(origin.folder), path.parent)
    source = _unchanged(places, origin.source)
    named = [_found(places, file) for file in origin.configs]
    if origin.config_text is not None:
        recipe = make_recipe(load_text("config", origin.config_text), folders)
    else:
        studio = named[: origin.studio]
        recipe = read_recipe(named[origin.studio :], folders, studio=studio)
    now = [*map(_config, recipe.files, recipe.texts)]
    changed = [old for old, new in zip(origin.configs, now, strict=False) if old.state != new.state]
    same = _same(summary, origin, recipe, changed=bool(changed))
    if changed and not same:
        raise PlanError(_other(changed[0]))
    if not same:
        raise PlanError(_other_steps(summary.gpost_version))
    return Again(summary, _as_read(origin, recipe, now), source, tuple(named), recipe, path)


def _same(summary: Summary, origin: OriginRecord, recipe: Recipe, *, changed: bool) -> bool:
    """Whether a recipe is still that of a print; `changed`: of another text what it means counts."""
    before, rest_before = recipe.as_before(TickList.model_construct(**summary.ticks.model_dump()))
    if changed:
        return origin.rest_sha256 in (recipe.for_a_rest, rest_before)
    return origin.recipe_sha256 in (recipe.of_print, before)


def _as_read(origin: OriginRecord, recipe: Recipe, found: Sequence[FilePrint]) -> OriginRecord:
    """The record with its configs as they are now."""
    said = zip(origin.configs, found, strict=False)
    configs = tuple(file.model_copy(update={"state": read.state}) for file, read in said)
    now = {"recipe_sha256": recipe.of_print, "rest_sha256": recipe.for_a_rest}
    return origin.model_copy(update={"configs": configs, **now})


def _summary(path: Path) -> Summary:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise SourceError(f"{shown(path)} is too large for a summary of gpost's")
        return Summary.model_validate_json(path.read_bytes())
    except OSError as error:
        raise SourceError(f"{shown(path)} can't be read: {error.strerror}") from error
    except ValidationError as error:
        raise SourceError(f"{shown(path)} is no summary that gpost has written as JSON") from error


def _unchanged(places: tuple[Path, Path], file: FilePrint) -> Path:
    """A file as it was. Raises PlanError if it has changed or is gone."""
    path = _found(places, file)
    try:
        same = _state(path) == file.state
    except OSError as error:
        raise _gone(file, path, error) from error
    if not same:
        raise PlanError(_other(file))
    return path


def lying_at(stored: Path) -> Path:
    """Where a file lies whose path was stored: its name may be no text, and is written out then."""
    return stored if stored.exists() else Path(restored(str(stored)))


def _found(places: tuple[Path, Path], file: FilePrint) -> Path:
    """Where a file lies: where it lay, or beside the summary, if all was moved or copied together.

    `places`: the folder from which it was named then, and the summary's. What it holds is checked anyway.
    Raises PlanError if it is gone.
    """
    folder, beside = places
    path = lying_at(folder / file.path)
    try:
        with path.open("rb"):
            return path
    except OSError as error:
        for moved in (beside / file.path, beside / Path(file.path).name):
            if lying_at(moved).is_file():
                return lying_at(moved)
        raise _gone(file, path, error) from error


def _gone(file: FilePrint, path: Path, error: OSError) -> PlanError:
    """`path`: where it is looked for."""
    why = f"which the print was made from, can't be read: {error.strerror}"
    there = "" if storable(path) == file.path else f" to where it lay, {shown(path)}"
    return PlanError(f"{shown(file.path)}, {why}; bring it back{there}, or put it beside the summary")


def _other(file: FilePrint) -> str:
    return (
        f"{shown(file.path)} has changed since the print was made from it, so the rest would not fit what "
        "stands; bring it back as it was (of a config only comments and sheet may change and, in the "
        "studio's own file, machine: home_with_piece)"
    )


def _other_steps(made_by: str) -> str:
    """`made_by`: the version of gpost that made the print's file."""
    if made_by == __version__:
        return (
            "the steps work in another way than when the file was made: other steps, or --steps-from is "
            "missing; go on with the same"
        )
    return (
        f"gpost {made_by} made the file, and this is gpost {__version__}, whose steps work in another way; "
        "install that one again until the piece is done"
    )


def _state(path: Path) -> Print:
    size, sha256 = size_and_sha256(path)
    return Print(size_bytes=size, sha256=sha256)


def _config(path: Path, text: str) -> FilePrint:
    """A config file as it was when it was read: where the work is done it may not be at hand."""
    data = text.encode()
    state = Print(size_bytes=len(data), sha256=hashlib.sha256(data).hexdigest())
    return FilePrint(path=storable(path), state=state)
