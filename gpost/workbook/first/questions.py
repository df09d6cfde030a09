"""What a potter is asked for a first studio file, in the order in which it can be answered."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, NamedTuple

from gpost.config.commands import CommandPlace, lacks_word
from gpost.config.load import load_text
from gpost.config.problem import ConfigProblems, KeyPath
from gpost.config.scalars import resolve
from gpost.errors import ConfigError
from gpost.workbook.first.filled import Given, filled, key_lines

_BETWEEN = re.compile(r"(?<=\d)\s*[x×]\s*(?=[-\d.])|\s+")
_EDGES = ("x_min_mm", "x_max_mm", "y_min_mm", "y_max_mm")
_METERED_BY = {"filament": "diameter_mm", "plunger": "bore_mm", "ml": "ml_per_unit"}
ALLOWED: KeyPath = ("machine", "allow_commands")


class Question(NamedTuple):
    """Something that is asked."""

    option: str
    """The command's option that says the same, without dashes."""
    text: str
    """The question."""
    things: tuple[tuple[KeyPath, ...], ...]
    """What an answer may give: the keys that say each thing, any of them; the model explains the first."""
    read: Callable[[str], Given]
    """The values in an answer. Raises ValueError with what to give, if they are too few or too many."""

    @property
    def words(self) -> str:
        """What is asked for, and which trials give it."""
        return "; then ".join(words(keys[0]) for keys in self.things)


def _parts(answer: str) -> list[Any]:
    """Numbers, and words where there should be numbers perhaps, as they are typed."""
    return [_value(part) for part in _BETWEEN.split(answer.strip()) if part]


def _value(text: str) -> Any:
    value = resolve(text)
    return value if isinstance(value, int | float) and not isinstance(value, bool) else text


def _one(*path: str) -> Callable[[str], Given]:
    return lambda answer: {path: _value(answer)}


def _bed(answer: str) -> Given:
    parts = _parts(answer)
    is_round = parts[:1] == ["round"]
    sizes = parts[is_round:]
    if len(sizes) == 2:
        sizes = [0, sizes[0], 0, sizes[1]]
    if len(sizes) != len(_EDGES):
        raise ValueError("give two numbers, its size in x and y, or four: x from and to, y from and to")
    bed = dict(zip(_EDGES, sizes, strict=True)) | ({"round": True} if is_round else {})
    return {("machine", "bed"): bed}


def _park(answer: str) -> Given:
    parts = _parts(answer)
    if len(parts) != 2:
        raise ValueError("give two numbers, x and y")
    return {("machine", "park"): {"x_mm": parts[0], "y_mm": parts[1]}}


def _pause(answer: str) -> Given:
    commands = [part.strip() for part in answer.split(",")]
    return {("machine", "pause", "commands"): commands, **_allowed(commands, "pause.commands")}


def _display(answer: str) -> Given:
    if answer.lower() in ("none", "null", "no"):
        return {("machine", "display"): None}
    return {("machine", "display"): answer, **_allowed([answer], "display")}


def _allowed(commands: list[str], place: CommandPlace) -> Given:
    """The studio's word for those that need it: who names them here gives it, and to no others."""
    named = [text for text in commands if lacks_word(text, place)]
    return {ALLOWED: named} if named else {}


def _metering(answer: str) -> Given:
    unit, *rest = _parts(answer)
    if len(rest) > (unit in _METERED_BY):
        raise ValueError("give filament and a diameter, plunger and a bore, ml and how many, mm3, or path")
    size = {_METERED_BY[unit]: rest[0]} if rest else {}
    return {("clay", "metering"): {"unit": unit, **size}}


def _hose(answer: str) -> Given:
    parts = _parts(answer)
    if len(parts) > 3:
        raise ValueError("give ml; or bore and length in mm, and perhaps the auger's ml")
    keys = ("line_ml",) if len(parts) == 1 else ("hose_bore_mm", "hose_length_mm", "auger_ml")
    return {("cartridge", key): part for key, part in zip(keys, parts, strict=False)}


def _cartridge(answer: str) -> Given:
    parts = _parts(answer)
    if len(parts) > 2:
        raise ValueError("give what it holds, and perhaps what stays in it")
    keys = ("volume_ml", "reserve_ml")
    return {("cartridge", key): part for key, part in zip(keys, parts, strict=False)}


def _name(answer: str) -> Given:
    return {("clay", "colour"): answer}


def _asked(option: str, text: str, *keys: str, read: Callable[[str], Given] | None = None) -> Question:
    things = tuple(tuple(tuple(key.split(".")) for key in thing.split()) for thing in keys)
    return Question(option, text, things, read or _one(*things[0][0]))


QUESTIONS = (
    _asked(
        "bed",
        "Bed, mm: 280 280, or its edges -140 140 -140 140; round 300 300 if it is round",
        "machine.bed",
        read=_bed,
    ),
    _asked("ceiling-mm", "Ceiling, mm", "machine.ceiling_mm"),
    _asked("park", "Park, x and y, mm: 12 12", "machine.park", read=_park),
    _asked("nozzle-mm", "Nozzle, mm", "machine.nozzle_mm"),
    _asked("pause", "Pause: M0", "machine.pause.commands", read=_pause),
    _asked("display", "Display: M117, or none", "machine.display", read=_display),
    _asked(
        "metering",
        "Metering: filament and its diameter in mm (filament 1.75), plunger and its bore (plunger 58), "
        "ml and how many (ml 0.0024), mm3; or path, if the file has no E",
        "clay.metering",
        read=_metering,
    ),
    _asked(
        "cartridge-ml",
        "Cartridge, ml: 1000, or with what stays in it 1000 60",
        *("cartridge.volume_ml", "cartridge.reserve_ml"),
        read=_cartridge,
    ),
    _asked(
        "hose",
        "Hose, ml: 55; or its bore and length in mm, and the auger's ml: 10 600 8",
        "cartridge.line_ml cartridge.hose_bore_mm cartridge.hose_length_mm cartridge.auger_ml",
        read=_hose,
    ),
    _asked("colour", "Name of the clay", "clay.colour", read=_name),
    _asked("density-g-ml", "Wet density, g/ml", "clay.wet_density_g_ml"),
    _asked("water-percent", "Water, percent", "clay.water_percent"),
    _asked("shrinkage-percent", "Shrinkage, percent", "clay.shrinkage_percent"),
)


def with_answer(given: Given, question: Question, answer: str, *, where: str) -> Given:
    """What is given with one more answer; an empty one gives nothing.

    Raises ConfigError in the words in which a config with that value is refused, after `where`.
    """
    answer = answer.strip()
    if not answer:
        return given
    try:
        new = question.read(answer)
    except ValueError as error:
        raise ConfigError(f"{where}: {error}") from None
    allowed = list(dict.fromkeys([*given.get(ALLOWED, ()), *new.get(ALLOWED, ())]))
    both: dict[KeyPath, Any] = {**given, **new, **({ALLOWED: allowed} if allowed else {})}
    try:
        load_text(where, filled(both))
    except ConfigProblems as error:
        raise ConfigError(
            "\n".join(str(replace(problem, line=None, column=None)) for problem in error.problems)
        ) from None
    return both


def unknown(given: Given) -> list[KeyPath]:
    """What is still open, by the key that would say it."""
    things = [keys for question in QUESTIONS for keys in question.things]
    return [keys[0] for keys in things if given.keys().isdisjoint(keys)]


def words(path: KeyPath) -> str:
    """What the model says of a key."""
    return " ".join(key_lines()[path].words)


def trial(path: KeyPath) -> str:
    """Which trial gives a key's value."""
    return words(path).rpartition("trial: ")[2] if "trial: " in words(path) else "its name will do"


def answers_given(options: Mapping[str, str]) -> Given:
    """What options say. Raises ConfigError as `with_answer` does."""
    given: Given = {}
    for question in QUESTIONS:
        if question.option in options:
            given = with_answer(given, question, options[question.option], where=f"--{question.option}")
    return given
