"""What a blower is switched by: whether a command lets it blow or stops it, and what `on` and `off` switch.

M3 to M5 and M7 to M9: NISTIR 6556, sections 3.6.2 and 3.6.4. All other codes: common practice, no source.
"""

from __future__ import annotations

import math

from gpost.config.commands import LEVEL, code_and_numbers

_BLOWS = {"M7": True, "M8": True, "M9": False, "M107": False}
_KINDS = {
    **dict.fromkeys(("M106", "M107"), "blower"),
    "M42": "pin",
    "M280": "servo",
    **dict.fromkeys(("M7", "M8", "M9"), "the coolant"),
    **dict.fromkeys(("M3", "M4", "M5"), "the spindle"),
    **dict.fromkeys(("M126", "M127"), "the valve"),
}
"""What a code switches; the first three go by the number behind P."""
_NUMBERED = ("blower", "pin", "servo")
_LEVELLED = frozenset({"M42", "M280"})
"""Codes that switch nothing without a level."""
_STOPPED_BY = {"the coolant": "M9", "the spindle": "M5", "the valve": "M127"}
_WHICH = frozenset({"AIR", "BLOWER", "CHANNEL", "FAN", "ID", "INDEX", "NAME", "NUMBER", "OUTPUT", "PIN"})
_WHICH |= frozenset({"PORT", "RELAY", "SERVO", "SIDE", "VALVE", "WHICH"})
"""Words by which a named command says which of several things it switches. Common practice, no source."""
_NONE = frozenset({"off", "false", "no", "none", "stop", "stopped", "disabled"})
"""Words that may say of a named command that it stops something, beside a number that is 0."""


def blows(command: str) -> bool | None:
    """Whether a command lets a blower blow, or stops it; None: its code doesn't say.

    M7 to M9: NISTIR 6556, section 3.6.4. M106 and M107: common practice, no source.
    """
    name, numbers = code_and_numbers(command) or ("", {})
    if name == "M106":
        level = numbers.get("S", LEVEL)
        return level == LEVEL or float(level) > 0
    return _BLOWS.get(name)


def blows_as(off: str, on: str) -> bool:
    """Whether a blower that `on` lets blow at some level blows at `off`, too."""
    if on.upper().split() == off.upper().split():
        return True
    (code, numbers), (other, words) = (code_and_numbers(command) or ("", {}) for command in (off, on))
    level = numbers.pop("S", "0")
    return bool(code) and code == other and {**numbers, "S": LEVEL} == words and float(level) > 0


def same_thing(one: str, other: str) -> bool:
    """Whether two commands switch one thing, as far as it can be told: a pin, the spindle."""
    return one.upper().split() == other.upper().split() or (
        _thing(one) is not None and _thing(one) == _thing(other)
    )


def missed_by(off: str, on: str) -> str:
    """Why `off` leaves on what `on` lets blow, and what to do, as a sentence; "" where that can't be told."""
    this, that = _thing(on), _thing(off)
    if this and that and this != that:
        return (
            f"`off`, {off}, switches {_named(that)}, and `on`, {on}, {_named(this)}, which would never be "
            f"off; say at `off` what stops that, such as {_stopping(on, this)}"
        )
    code, numbers = code_and_numbers(off) or ("", {})
    if this and code in _LEVELLED and "S" not in numbers:
        return f"`off`, {off}, says no level (S) and switches nothing; say one, such as {_stopping(on, this)}"
    return _other_words(off, on)


def name_and_words(command: str) -> tuple[str, dict[str, str]]:
    """The name in capitals, and what stands behind the `=` of each word, by the word in capitals."""
    name, *words = command.split() or [""]
    pairs = (word.partition("=") for word in words)
    return name.upper(), {key.upper(): value for key, _, value in pairs}


def says_same(one: str | None, other: str) -> bool:
    """Whether two words say the same: `0.00` is 0, and names are told apart by their case."""
    return one is not None and (one == other or plain_number(one) == plain_number(other))


def plain_number(text: str) -> float:
    """What it says as a plain number; NaN for all else, which is no other."""
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def _thing(command: str) -> tuple[str, float | None] | None:
    """What kind of thing a code switches and, where it goes by numbers, its P; None: it can't be told.

    M106 and M107 without a P are those of blower 0.
    """
    code, numbers = code_and_numbers(command) or ("", {})
    kind = _KINDS.get(code)
    if kind is None or numbers.get("P") == LEVEL:
        return None
    pin = numbers.get("P", "0" if kind == "blower" else None) if kind in _NUMBERED else None
    return kind, None if pin is None else float(pin)


def _named(thing: tuple[str, float | None]) -> str:
    kind, number = thing
    if kind not in _NUMBERED:
        return kind
    return f"a {kind} without a number" if number is None else f"{kind} {number:g}"


def _stopping(on: str, thing: tuple[str, float | None]) -> str:
    """A command that stops what `on` lets blow."""
    kind, number = thing
    if kind in _STOPPED_BY:
        return _STOPPED_BY[kind]
    which = "" if number is None or (kind == "blower" and number == 0) else f" P{number:g}"
    if kind == "blower":
        return f"M107{which}"
    code, numbers = code_and_numbers(on) or ("", {})
    return f"{code}{which} S{int(plain_number(numbers.get('S', '')) == 0)}"


def _other_words(off: str, on: str) -> str:
    """Of one name, which word of `off` says another blower than that of `on`, whose level both say.

    Others may differ: how long it takes (`RAMP=2`), or what it does meanwhile.
    """
    if code_and_numbers(on) is not None:
        return ""
    (name, words), (other, others) = name_and_words(on), name_and_words(off)
    level = next((key for key, value in words.items() if value == LEVEL), None)
    if name != other or level not in others:
        return ""
    for key, value in words.items():
        said = others.get(key)
        if key == level or key not in _WHICH or said is None or says_same(said, value):
            continue
        if said.lower() not in _NONE and plain_number(said) != 0:
            return (
                f"`off`, {off}, says {key}={said}, and `on`, {on}, {key}={value}, which would never be off; "
                f"say {key}={value} at `off`, too"
            )
    return ""
