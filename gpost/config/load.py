"""Config files to a checked config, several laid one over the other, with all problems told at once."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from functools import reduce
from pathlib import Path

from gpost.common.filenames import is_sliced
from gpost.common.records import record
from gpost.config.check import M, Section
from gpost.config.doubts import doubts
from gpost.config.model import Config, StepUse
from gpost.config.problem import ConfigProblems, FilePlace, Problem, shown_key, shown_path
from gpost.config.replaced import replaced_lists
from gpost.config.studio import origin_of, refused_commands
from gpost.config.yamltree import (
    Items,
    Node,
    Scalar,
    Table,
    overlaid,
    read_tree,
    values,
)

MOST_BYTES = 1 << 20
MOST_STEPS = 100
_A_STEP = "a step's name, or a name with its settings below it"


@record(frozen=True, slots=True)
class StepEntry:
    """One entry of `steps:` as it is written; `index` counts from 0."""

    index: int
    name: str
    place: FilePlace
    settings: Table


@record(frozen=True, slots=True)
class LoadedConfig:
    """A checked config; the steps' own settings are checked once the steps are known."""

    config: Config
    entries: tuple[StepEntry, ...] = ()
    texts: tuple[tuple[str, str], ...] = ()
    """(name, text) of each file that it is made of, in their order."""
    studio: int = 0
    """How many of them, from the first on, are the studio's."""
    in_files: bool = True
    """Whether that is what they are, and no text under a name."""

    @property
    def files(self) -> tuple[str, ...]:
        """Names of the files that it is made of, in their order."""
        return tuple(name for name, _ in self.texts)

    def under(self, path: Path) -> LoadedConfig:
        """The same with one more file over it. Raises ConfigError as `load_config` does."""
        problems: list[Problem] = []
        return _loaded([*self.texts, (str(path), _text(path, problems))], self.studio, problems)

    @property
    def step_names(self) -> frozenset[str]:
        """Names of the steps that the config uses."""
        return frozenset(entry.name for entry in self.entries)


def load_config(paths: Sequence[Path], *, studio: Sequence[Path] = ()) -> LoadedConfig:
    """Read config files; a later one overrides an earlier one.

    `studio`: the files that say what the machine may do, read before the others; none: the first of `paths`
    says it. What a later one loosens of it stands in the config's `origin`, and no job is done with that.
    Tables are laid over each other key by key; texts, numbers and lists, and so the whole of `steps`,
    are replaced. Raises ConfigError with a line for each problem in all files.
    """
    problems: list[Problem] = []
    texts = [(str(path), _text(path, problems)) for path in (*studio, *paths)]
    return _loaded(texts, len(studio) or 1, problems)


def load_text(name: str, text: str) -> LoadedConfig:
    """The config in a text that is no file yet, under a name. Raises ConfigError as `load_config` does."""
    return dataclasses.replace(_loaded([(name, text)], 1, []), in_files=False)


def load_settings(path: Path, model: type[M]) -> M:
    """A YAML file of its own, beside the config, as that model. Raises ConfigError as `load_config` does."""
    problems: list[Problem] = []
    return _settings(str(path), _text(path, problems), model, problems)


def settings_in(name: str, text: str, model: type[M]) -> M:
    """The settings in a text that is no file, as that model. Raises ConfigError as `load_config` does."""
    return _settings(name, text, model, [])


def _settings(name: str, text: str | None, model: type[M], problems: list[Problem]) -> M:
    tree = None if text is None else read_tree(name, text, problems)
    found = None if tree is None else Section(model, tree, tree.place).fit(problems)
    if problems or found is None:
        raise ConfigProblems(sorted(problems, key=lambda p: p.order))
    return found


def _text(path: Path, problems: list[Problem]) -> str | None:
    try:
        return _read(path)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        problems.append(Problem(str(path), wrong=f"the config can't be read: {reason}"))
    return None


def _read(path: Path) -> str:
    """The file's text. Raises OSError or ValueError, with the reason as its text."""
    if str(path) == "-":
        raise ValueError("it can't come from standard input; name a file")
    if path.is_dir():
        raise ValueError("it is a folder; name a file in it")
    if not path.exists():
        raise ValueError("there is no such file; check its name and folder")
    if not path.is_file():
        raise ValueError("it is no ordinary file")
    if is_sliced(path):
        raise ValueError("it is a sliced file; name a YAML file there, and the sliced file by itself")
    with path.open("rb") as file:
        data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise ValueError("it is larger than 1 MiB; a config is a page or two")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise ValueError(f"line {line} is not UTF-8 text; save the file as UTF-8") from None


def _loaded(texts: Sequence[tuple[str, str | None]], studio: int, problems: list[Problem]) -> LoadedConfig:
    studio = min(studio, len(texts))
    found = [None if text is None else read_tree(name, text, problems) for name, text in texts]
    readable = not problems  # else a value may not be what was meant, and whatever hangs on it isn't either
    trees = [tree for tree in found if tree is not None]
    for tree in trees:  # each by itself first, for what a later file hides is wrong all the same
        _fit(tree, problems, complete=False)
    whole = reduce(overlaid, trees, Table(FilePlace(texts[0][0] if texts else "config", 1)))
    config, entries = _fit(whole, problems, complete=readable)
    if config is not None and not problems:
        problems += refused_commands(trees, studio, whole, config)
    if problems or config is None:
        order = [name for name, _ in texts]
        raise ConfigProblems(sorted(problems, key=lambda p: (order.index(p.file), p.order)))
    # not checked here: names and settings are the step's, which tells what is wrong with them by line
    uses = tuple(
        StepUse.model_construct(name=entry.name, settings=values(entry.settings)) for entry in entries
    )
    kept = tuple((name, text) for name, text in texts if text is not None)
    origin = origin_of(trees, studio, whole)._replace(
        doubts=tuple(map(str, doubts(whole, config))), replaced=tuple(replaced_lists(trees))
    )
    config = config.model_copy(update={"steps": uses}).from_files(origin)
    return LoadedConfig(config, tuple(entries), kept, studio)


def _fit(whole: Table, problems: list[Problem], *, complete: bool) -> tuple[Config | None, list[StepEntry]]:
    rest = Table(whole.place, {key: entry for key, entry in whole.entries.items() if key != "steps"})
    config = Section(Config, rest, rest.place, complete=complete).fit(problems)
    return config, _step_entries(whole, problems)


def _step_entries(whole: Table, problems: list[Problem]) -> list[StepEntry]:
    if "steps" not in whole.entries:
        return []
    place, node = whole.entries["steps"].place, whole.entries["steps"].node
    if isinstance(node, Scalar) and node.value is None:
        return []
    if not isinstance(node, Items):
        problems.append(
            Problem.at(
                place,
                "steps",
                value=node.shown,
                wrong="is not a list",
                expected="a list of steps",
                hint="put '- ' before each step's name",
            )
        )
        return []
    if len(node.nodes) > MOST_STEPS:
        wrong = f"has more than {MOST_STEPS} steps"
        problems.append(Problem.at(place, "steps", value=node.shown, wrong=wrong))
        return []
    found = [_step_entry(index, item, problems) for index, item in enumerate(node.nodes)]
    return [entry for entry in found if entry is not None]


def _step_entry(index: int, node: Node, problems: list[Problem]) -> StepEntry | None:
    def refuse(**words: str) -> None:
        problems.append(Problem.at(node.place, shown_path(("steps", index)), **words))

    if isinstance(node, Scalar) and isinstance(node.value, str) and node.text:
        return StepEntry(index, node.text, node.place, Table(node.place))
    if not isinstance(node, Table):
        wrong = "is not a step" if node.shown else "nothing is given"
        refuse(value=node.shown, wrong=wrong, expected=_A_STEP)
        return None
    if len(node.entries) != 1:
        _refuse_names(node, refuse)
        return None
    [(name, entry)] = node.entries.items()
    if isinstance(entry.node, Scalar) and entry.node.value is None:
        return StepEntry(index, name, entry.place, Table(entry.place))
    if not isinstance(entry.node, Table):
        refuse(
            value=f"{shown_key(name)}: {entry.node.shown}",
            wrong="is not a step with its settings",
            expected=f"keys with values below {shown_key(name)}:",
        )
        return None
    return StepEntry(index, name, entry.place, entry.node)


def _refuse_names(node: Table, refuse: Callable[..., None]) -> None:
    """Say what is wrong with an entry that has not exactly one name."""
    names = list(node.entries)
    if not names:
        refuse(wrong="nothing is given", expected=_A_STEP)
        return
    shown = ", ".join(shown_key(name) for name in names[:4])
    first = node.entries[names[0]].node
    bare = isinstance(first, Scalar) and first.value is None
    refuse(
        wrong=f"one entry has several names: {shown}",
        expected=_A_STEP,
        hint=f"indent settings further than {shown_key(names[0])}" if bare else "start each step with '- '",
    )
