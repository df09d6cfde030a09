"""The steps there are, and one step with its settings, in words."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import to_jsonable_python

from gpost.common.docs import docstring
from gpost.common.foreign import foreign, told_by
from gpost.common.plain import shown
from gpost.config.expect import Expectations
from gpost.config.fieldwords import field_words
from gpost.config.nearest import did_you_mean
from gpost.errors import ConfigError
from gpost.steps.manager import StepRegistry
from gpost.steps.step import Step

WIDTH = 80
_DEEPEST = 16
"""Tables in tables are told up to this indent: a type may hold itself."""


def steps_text(registry: StepRegistry) -> str:
    """One entry a step, and the broken ones with the reason; the registry's plugins must be loaded."""
    lines: list[str] = []
    for name, step in sorted(registry.steps.items()):
        lines += _wrapped(f"{name:<10} {_first_line(step)}", indent=13)
        after = f"; comes after {', '.join(step.after)}" if step.after else ""
        lines += _wrapped(f"{'':<10} from {registry.owners[name]}{after}", indent=13)
    if not registry.steps:
        lines.append("no steps are installed")
    if registry.broken:
        lines += ["", "These can't be used:"]
        lines += [line for broken in registry.broken for line in _wrapped(str(broken), indent=4)]
    return "\n".join(
        [*lines, "", "`gpost explain STEP` says what a step does and what its settings are.", ""]
    )


def explain_text(registry: StepRegistry, name: str) -> str:
    """The step's docstring and its settings. Raises ConfigError if there is no such step, or it fails."""
    steps = registry.load([name])
    if name not in steps:
        known = sorted({*registry.names, *steps})
        hint = did_you_mean(name, known) or f"there are: {', '.join(known)}"
        raise ConfigError(f"there is no step {shown(name)}; {hint}")
    step = steps[name]
    try:
        with foreign():
            lines = [name, "", *_reflowed(docstring(step)), "", *_settings(step)]
    except Exception as error:
        raise ConfigError(
            f"step {name} can't be explained: {shown(told_by(error))}. This is a fault of the step"
        ) from error
    if step.after:
        lines += ["", f"When they are used too, it comes after: {', '.join(step.after)}."]
    return shown("\n".join([*lines, ""]), keep_newlines=True)


def _reflowed(text: str) -> list[str]:
    """Paragraphs in lines that fit; what is indented stays as it is."""
    lines: list[str] = []
    for paragraph in text.split("\n\n"):
        kept = paragraph.startswith(" ")
        lines += [*(paragraph.splitlines() if kept else textwrap.wrap(paragraph, WIDTH)), ""]
    return lines[:-1]


def _settings(step: type[Step[Any]]) -> Iterator[str]:
    fields = step.Settings.model_fields
    yield "Settings:" if fields else "It has no settings."
    yield from _table(step.Settings, "  ")


def _table(settings: type[BaseModel], margin: str) -> Iterator[str]:
    """Each setting with what is expected, its default and description; tables in it below it."""
    expected, said = Expectations(settings), field_words(settings)
    inner = margin + "    "
    for key, field in settings.model_fields.items():
        words = (expected.words((key,)) or "a value").replace(" or null for none", "")
        yield f"{margin}{key}"
        yield from _wrapped(f"{words}; {_default(field)}", indent=len(inner), first=len(inner))
        if key in said:
            yield from _wrapped(said[key], indent=len(inner), first=len(inner))
        for table in _tables(field.annotation) if len(inner) < _DEEPEST else ():
            yield from _table(table, inner)


def _tables(annotation: object) -> Iterator[type[BaseModel]]:
    """The tables that a setting's type holds, such as the entries of a list."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _tables(part)


def _default(field: FieldInfo) -> str:
    """What holds when the setting is left out, as it would stand in a config."""
    if field.is_required():
        return "must be given"
    value = to_jsonable_python(field.get_default(call_default_factory=True), exclude_none=True, fallback=str)
    if value is None:
        return "may be left out"
    return f"if left out: {json.dumps(value, ensure_ascii=False).strip(chr(34))}"


def _first_line(step: type[Step[Any]]) -> str:
    return docstring(step).partition("\n")[0]


def _wrapped(text: str, *, indent: int, first: int = 0) -> list[str]:
    return textwrap.wrap(
        shown(text),
        WIDTH,
        initial_indent=" " * first,
        subsequent_indent=" " * indent,
        break_on_hyphens=False,
        drop_whitespace=True,
    )
