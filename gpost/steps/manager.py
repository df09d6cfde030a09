"""Finds the steps that are installed, and those in folders named on the command line, and loads them late."""

from __future__ import annotations

import importlib.util
import inspect
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import field
from importlib.metadata import Distribution, EntryPoint, distributions, entry_points
from pathlib import Path
from types import MappingProxyType, ModuleType
from typing import Any, NamedTuple

import pluggy

from gpost.common.docs import NO_DOCSTRINGS, docstring
from gpost.common.foreign import foreign, told_by
from gpost.common.plain import shown
from gpost.common.records import record
from gpost.config.problem import quoted
from gpost.config.settings import Settings
from gpost.errors import ConfigError
from gpost.steps import hookspecs
from gpost.steps.step import VERSION, Step

GROUP = "gpost.steps"
STOCK = "gpost"
"""The distribution that the stock steps come with."""
OLDER = f"and this gpost has version {VERSION}; take a newer gpost, or a step that does with this one"
_NAME = re.compile(r"[a-z][a-z0-9_-]{0,39}")


@record(frozen=True, slots=True)
class Broken:
    """A step or a plugin that can't be used, and why, as a sentence."""

    name: str
    owner: str
    reason: str

    def __str__(self) -> str:
        return f"{self.name} (from {self.owner}): {self.reason}"


def unloaded(broken: Sequence[Broken]) -> str:
    """That some plugins can't be used, for whoever misses a step; "" if all can be."""
    match broken:
        case []:
            return ""
        case [one]:
            return f"1 plugin could not be loaded: {one}"
        case _:
            named = ", ".join(f"{one.name} (from {one.owner})" for one in broken)
            return f"{len(broken)} plugins could not be loaded: {named}; `gpost steps` says why"


class StepSource(NamedTuple):
    """Where steps may come from: an entry point or a file; `load` imports its module."""

    name: str
    owner: str
    """The distribution's name, or the file's path."""
    load: Callable[[], object]
    always: bool = False
    """Whether it is loaded with any config, because it was named on the command line."""


@record()
class StepRegistry:
    """The steps that are there. A plugin is imported when a config needs it, not before."""

    manager: pluggy.PluginManager
    sources: Sequence[StepSource]
    broken: list[Broken] = field(default_factory=list, init=False)
    _steps: dict[str, type[Step[Any]]] = field(default_factory=dict, init=False)
    _owners: dict[str, str] = field(default_factory=dict, init=False)
    _clashes: dict[str, str] = field(default_factory=dict, init=False)
    """Names of which it can't be told whose step is meant, with the sentence."""
    _tried: set[int] = field(default_factory=set, init=False)

    @property
    def names(self) -> list[str]:
        """Names under which plugins are offered, without importing any.

        A stock step's is the step's own; another plugin may offer several steps under one name.
        """
        return sorted({source.name for source in self.sources})

    @property
    def steps(self) -> Mapping[str, type[Step[Any]]]:
        """The steps loaded so far, by name."""
        return MappingProxyType(self._steps)

    @property
    def owners(self) -> Mapping[str, str]:
        """Who each loaded step comes from: a distribution's name or a file's path."""
        return MappingProxyType(self._owners)

    def load(self, wanted: Iterable[str]) -> Mapping[str, type[Step[Any]]]:
        """Import what offers the wanted steps, and all plugins if that leaves one unfound.

        Returns the steps loaded, which lack a wanted one that nobody offers. Raises ConfigError if a
        wanted step is broken, or if it can't be told which of two is meant. Others' faults cost nothing.
        """
        wanted = sorted(set(wanted))
        self._load(source for source in self.sources if source.always or source.name in wanted)
        if any(name not in self._steps and not self._why_broken(name) for name in wanted):
            self.load_all()
        clashes = [self._clashes[name] for name in wanted if name in self._clashes]
        if clashes:
            raise ConfigError("\n".join(clashes))
        unusable = [self._why_broken(name) for name in wanted if name not in self._steps]
        if any(unusable):
            told = "\n".join(f"the config uses a step that is broken: {b}" for b in unusable if b)
            raise ConfigError(told)
        return self.steps

    def load_all(self) -> Mapping[str, type[Step[Any]]]:
        """Import every plugin; what is wrong with some stands in `broken`."""
        self._load(self.sources)
        return self.steps

    def _load(self, sources: Iterable[StepSource]) -> None:
        for source in sources:
            if id(source) not in self._tried:
                self._tried.add(id(source))
                self._load_one(source)

    def _load_one(self, source: StepSource) -> None:
        try:
            with foreign():
                offered = self._offered(source.load())
        except ConfigError as error:
            self.broken.append(Broken(source.name, source.owner, str(error)))
            return
        except Exception as error:
            reason = f"it can't be loaded: {shown(told_by(error))}"
            if isinstance(error, ImportError) and error.name == "gpost.api":
                reason += f". It may be made for a later gpost.api, {OLDER}"
            self.broken.append(Broken(source.name, source.owner, reason))
            return
        for kind in offered:
            self._add(kind, source)

    def _offered(self, module: object) -> list[object]:
        """What the module's hook returns. Raises whatever the module or pluggy raises."""
        if self.manager.is_registered(module):
            return []
        try:
            self.manager.register(module)
            self.manager.check_pending()
            others = [plugin for plugin in self.manager.get_plugins() if plugin is not module]
            answers = self.manager.subset_hook_caller("gpost_steps", others)()
            if not answers:
                text = "it has no function gpost_steps, marked @hookimpl, that returns step classes"
                raise ConfigError(text)
            if not all(isinstance(answer, Iterable) for answer in answers):
                raise ConfigError("its gpost_steps returns no list of step classes")
            return [kind for answer in answers for kind in answer]
        except BaseException:
            if self.manager.is_registered(module):
                self.manager.unregister(module)
            raise

    def _add(self, kind: object, source: StepSource) -> None:
        reason = _unfit(kind)
        name = getattr(kind, "name", None)
        if reason or not isinstance(name, str) or not isinstance(kind, type):
            known = name if isinstance(name, str) and _NAME.fullmatch(name) else source.name
            self.broken.append(Broken(known, source.owner, reason))
            return
        if self._steps.get(name, kind) is not kind or name in self._clashes:
            self._clash(name, source)
            return
        self._steps[name] = kind
        self._owners[name] = source.owner

    def _clash(self, name: str, source: StepSource) -> None:
        """A second step of one name is refused. The stock one stays; of two others neither can be meant.

        Where the second comes from a folder that was named, nobody can tell which a config means.
        """
        first = self._owners[name]
        if first == STOCK and not source.always:
            reason = (
                "a step of gpost's own has this name, and that stays; it has to be renamed, or uninstalled"
            )
            self.broken.append(Broken(name, source.owner, reason))
            return
        said = f"two steps are named {name}: one from {first}, one from {source.owner}"
        self._clashes.setdefault(name, f"{said}; uninstall one of them, or leave its folder out")
        self.broken.append(Broken(name, source.owner, f"one from {first} has this name, too"))
        if first != STOCK and self._steps.pop(name, None) is not None:
            self.broken.append(Broken(name, first, f"one from {source.owner} has this name, too"))

    def _why_broken(self, name: str) -> Broken | None:
        return next((broken for broken in self.broken if broken.name == name), None)


class _Plugins(pluggy.PluginManager):
    """Looks for hooks among a module's functions: pluggy takes long for each of the names that it imports."""

    def parse_hookimpl_opts(self, plugin: object, name: str) -> Any:
        """What a hook is marked with; None for what is none."""
        if isinstance(plugin, ModuleType):
            value = vars(plugin).get(name)
            if isinstance(value, type) or not callable(value):
                return None
        return super().parse_hookimpl_opts(plugin, name)


def build_manager(folders: Sequence[Path] = ()) -> StepRegistry:
    """The registry of installed plugins and of the *.py files in the folders; nothing is imported yet.

    `folders` come from the command line alone, never from a config. Raises ConfigError if one is none.
    """
    manager = _Plugins(hookspecs.PROJECT)
    manager.add_hookspecs(hookspecs)
    return StepRegistry(manager, [*_installed(), *(_in_file(path) for path in _files(folders))])


def _installed() -> Iterator[StepSource]:
    """The steps that installed distributions offer, gpost's own first."""
    names: dict[Distribution | None, str] = {None: "an unknown package"}
    found: list[StepSource] = []
    for point in _points():
        if point.dist not in names and point.dist is not None:
            # parses the distribution's whole description each time
            names[point.dist] = _name_of(point.dist) or names[None]
        found.append(StepSource(point.name, names[point.dist], point.load))
    yield from sorted(found, key=lambda source: source.owner != STOCK)


def _points() -> Iterable[EntryPoint]:
    """The entry points of the group. A distribution whose own can't be read has none."""
    try:
        return tuple(entry_points(group=GROUP))
    except Exception:
        return _points_one_by_one()


def _points_one_by_one() -> Iterator[EntryPoint]:
    """The same, past damaged distributions; the first of a name counts, as where modules are looked for."""
    seen: set[str | None] = set()
    for distribution in distributions():
        try:
            points, name = distribution.entry_points.select(group=GROUP), _name_of(distribution)
        except Exception:
            continue
        if name not in seen:
            seen.add(name)
            yield from points


def _name_of(distribution: Distribution) -> str | None:
    """Its name; None where its description is damaged or gone."""
    try:
        return distribution.name or None
    except Exception:
        return None


def _files(folders: Sequence[Path]) -> list[Path]:
    for folder in folders:
        if not folder.is_dir():
            raise ConfigError(f"{shown(folder)} is no folder; name a folder that holds steps as *.py files")
    files = {path.resolve(): path for folder in folders for path in sorted(folder.glob("*.py"))}
    return [path for path in files.values() if not path.name.startswith("_")]


def _in_file(path: Path) -> StepSource:
    return StepSource(path.stem, shown(path), lambda: _import_file(path), always=True)


def _import_file(path: Path) -> object:
    """Import one file under a name that no installed module has. Raises what the file raises."""
    name = re.sub(r"\W", "_", f"gpost_steps_from_folder_{path.resolve()}")
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or spec.loader is None:
        raise ImportError("it is no Python file")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # where annotations of its classes are looked up
    try:
        spec.loader.exec_module(module)
    except BaseException:
        del sys.modules[name]
        raise
    return module


def is_step_name(name: str) -> bool:
    """Whether a step may have this name."""
    return _NAME.fullmatch(name) is not None


def _unfit(kind: object) -> str:
    """Why this is no step that can be used, as a sentence; "" if it is one."""
    if not (isinstance(kind, type) and issubclass(kind, Step)):
        return f"{quoted(getattr(kind, '__name__', type(kind).__name__))} is no subclass of gpost.api.Step"
    name, settings = getattr(kind, "name", None), getattr(kind, "Settings", None)
    if not (isinstance(name, str) and _NAME.fullmatch(name)):
        return f"the step class {kind.__name__} needs a `name` in small letters, such as glaze_dip"
    if not (isinstance(settings, type) and issubclass(settings, Settings)):
        return f"the step class {kind.__name__} needs `Settings`, a subclass of gpost.api.Settings"
    if type(kind.needs_api) is not int or kind.needs_api < 1:
        return f"the step class {kind.__name__} needs `needs_api` to be a version of gpost.api, such as 1"
    if kind.needs_api > VERSION:
        return f"it is made for version {kind.needs_api} of gpost.api, {OLDER}"
    if not docstring(kind).strip() and sys.flags.optimize < NO_DOCSTRINGS:
        return f"the step class {kind.__name__} needs a docstring, which `gpost explain` shows"
    if not (isinstance(kind.after, tuple) and all(isinstance(other, str) for other in kind.after)):
        return f"the step class {kind.__name__} needs `after` to be a tuple of names"
    if inspect.isabstract(kind):
        return f"the step class {kind.__name__} needs a method `plan`"
    return ""
