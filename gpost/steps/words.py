"""The steps there are, one step with its settings, and a key of the config, in words."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from gpost import __version__
from gpost.common.docs import docstring
from gpost.common.foreign import foreign, told_by
from gpost.common.layout import Line, Paragraph, Part, laid_out
from gpost.common.plain import shown, storable
from gpost.config.described import Key, find_keys, key_lines, keys_of, table_lines, wrapped
from gpost.config.fieldwords import field_words
from gpost.config.model import Config
from gpost.config.nearest import did_you_mean, nearest
from gpost.config.settings import Settings
from gpost.errors import ConfigError
from gpost.steps.manager import StepRegistry, unloaded
from gpost.steps.step import Step

FILES: Mapping[type[Settings], str] = MappingProxyType({Config: "a config"})
"""Whose keys can be explained."""
LEAST, MOST = 11, 16
"""Columns for names beside what is said of them."""
EXPLAIN_STEP = "`gpost explain STEP` says what a step does and what its settings are."


def steps_text(registry: StepRegistry, width: int | None = None) -> str:
    """One entry a step, and the broken ones with the reason; the registry's plugins must be loaded."""
    return laid_out(_steps(registry), width)


def _steps(registry: StepRegistry) -> list[Part]:
    lines: list[Part] = []
    room = _room(registry.steps)
    for name, step in sorted(registry.steps.items()):
        lines += wrapped(f"{name:<{room}}{_first_line(step)}", indent=room)
        after = f"; comes after {', '.join(step.after)}" if step.after else ""
        lines += wrapped(f"from {registry.owners[name]}{after}", first=room, indent=room)
    if not registry.steps:
        lines.append("no steps are installed")
    if registry.broken:
        lines += ["", "These can't be used:"]
        lines += [line for broken in registry.broken for line in wrapped(str(broken), indent=4)]
    return [*lines, "", EXPLAIN_STEP]


def _room(names: Iterable[str]) -> int:
    """The column at which what is said of names begins; longer ones stand into it."""
    return min(max([LEAST, *(len(name) + 2 for name in names)]), MOST)


def steps_json(registry: StepRegistry) -> str:
    """The same as a JSON document; the registry's plugins must be loaded."""
    document = {
        "version": 1,
        "gpost_version": __version__,
        "steps": [
            {
                "name": name,
                "says": _first_line(step),
                "from": registry.owners[name],
                "after": list(step.after),
                "needs_api": step.needs_api,
            }
            for name, step in sorted(registry.steps.items())
        ],
        "broken": [
            {"name": one.name, "from": one.owner, "says": storable(one.reason)} for one in registry.broken
        ],
    }
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def overview_text(registry: StepRegistry, width: int | None = None) -> str:
    """The keys that files begin with, and the steps; the registry's plugins must be loaded."""
    lines: list[Part] = []
    for model, of in FILES.items():
        words = field_words(model)
        lines += [f"Keys of {of}:", ""]
        room = _room(model.model_fields)
        for key in model.model_fields:
            lines += wrapped(f"{key:<{room}}{words.get(key, '')}", indent=room)
        lines.append("")
    lines += ["`gpost explain KEY` says more, as `gpost explain machine`.", "", "Steps:", ""]
    return laid_out([*lines, *_steps(registry)], width)


def names_told(registry: StepRegistry) -> list[str]:
    """All steps, and the keys that files begin with."""
    keys = (key for model in FILES for key in model.model_fields)
    return sorted({*(registry.steps or registry.names), *keys})


def explain_text(registry: StepRegistry, name: str, width: int | None = None) -> str:
    """A step, or a key of the config, in words. Raises ConfigError if it is neither, or if the step fails.

    A name that both a step and a key have is the step's.
    """
    found = [] if name in registry.names else find_keys(tuple(FILES), name)
    if found and (found[0].path == tuple(name.split(".")) or name not in registry.load([name])):
        return laid_out(_key(found, registry), width)
    steps = registry.load([name])
    if name not in steps:
        hint = "; ".join(filter(None, (_hint(registry, name), unloaded(registry.broken))))
        raise ConfigError(f"there is no step, key or finding {shown(name)}; {hint}")
    return _step_text(steps[name], name, width)


def _key(found: Sequence[Key], registry: StepRegistry) -> list[Part]:
    """One key; where a name leaves several, which there are."""
    paths = list(dict.fromkeys(".".join(key.path) for key in found))
    if len(paths) > 1:
        return ["There are several:", "", *(f"  gpost explain {path}" for path in paths)]
    lines: list[Part] = [paths[0]]
    for key in found:
        lines += ["", *(wrapped(docstring(key.owner)) if len(found) > 1 else ()), *key_lines(key)]
    if paths == ["steps"]:
        lines += ["", *wrapped(f"There are: {', '.join(registry.names)}."), "", EXPLAIN_STEP]
    return lines


def _hint(registry: StepRegistry, name: str) -> str:
    """The nearest name; without one the steps there are."""
    steps = sorted({*registry.names, *registry.steps})
    *table, last = name.split(".")
    keys = [key for model in FILES for key in keys_of(model)]
    if table:
        here = [key.path[-1] for key in keys if list(key.path[:-1]) == table]
        near = list(dict.fromkeys(".".join(key.path) for key in keys if key.path[-1] == last))
        near = near or [".".join([*table, key]) for key in nearest(last, here)]
        return f"did you mean {' or '.join(near)}?" if near else _hint(registry, last)
    known = did_you_mean(name, [*steps, *(key.path[-1] for key in keys)])
    return known or f"there are: {', '.join(steps)}, and the keys that `gpost explain` lists"


def _step_text(step: type[Step[Any]], name: str, width: int | None) -> str:
    """The step's docstring and its settings."""
    try:
        with foreign():
            lines: list[Part] = [name, "", *_reflowed(docstring(step)), "", *_settings(step)]
    except Exception as error:
        raise ConfigError(
            f"step {name} can't be explained: {shown(told_by(error))}. This is a fault of the step"
        ) from error
    if step.after:
        lines += ["", f"When they are used too, it comes after: {', '.join(step.after)}."]
    return shown(laid_out(lines, width), keep_newlines=True)


def _reflowed(text: str) -> list[Part]:
    """Paragraphs; what is indented stays as it is, since it is to be copied."""
    lines: list[Part] = []
    for paragraph in text.split("\n\n"):
        kept = paragraph.startswith(" ")
        lines += [*(map(Line, paragraph.splitlines()) if kept else [Paragraph(paragraph, hyphens=True)]), ""]
    return lines[:-1]


def _settings(step: type[Step[Any]]) -> Iterator[Part]:
    yield "Settings:" if step.Settings.model_fields else "It has no settings."
    yield from table_lines(step.Settings)


def _first_line(step: type[Step[Any]]) -> str:
    return docstring(step).partition("\n")[0]
