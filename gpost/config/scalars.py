"""Plain YAML words as values, by the core rules of YAML 1.2.

So `on`, `no` and `12:30` are text, not switches or sums of sixties; `1e3` is a number, and `1_000` is none.
Source of the patterns: YAML 1.2.2, section 10.3.2, core schema, tag resolution.
"""

from __future__ import annotations

import re
from typing import TypeAlias

from gpost.common.later import later

Value: TypeAlias = bool | int | float | str | None

_CONSTANTS: dict[str, Value] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL"), None),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
    **dict.fromkeys((".nan", ".NaN", ".NAN"), float("nan")),
    **{sign + word: float(sign + "inf") for sign in ("", "+") for word in (".inf", ".Inf", ".INF")},
    **{"-" + word: float("-inf") for word in (".inf", ".Inf", ".INF")},
}
_DECIMAL = later(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_OTHER_BASE = later(r"0o[0-7]{1,16}|0x[0-9a-fA-F]{1,12}")
_WHOLE_BELOW = 2.0**53

SWITCHES = {"on": True, "yes": True, "off": False, "no": False}
"""Words that stand for true and false, but only where one of these is expected."""


def resolve(text: str) -> Value:
    """The value of a plain (unquoted) word: None, true, false, a number or the text itself.

    A number that is whole comes as an int, so that `1e3` fits where a whole number is wanted.
    """
    if text in _CONSTANTS:
        return _CONSTANTS[text]
    if _DECIMAL.fullmatch(text):
        number = float(text)
        return int(number) if abs(number) < _WHOLE_BELOW and number.is_integer() else number
    if _OTHER_BASE.fullmatch(text):
        return int(text, 0)
    return text


def number_hint(text: str) -> str:
    """How to write this text as the number it was probably meant to be, or nothing."""
    text = text.strip()
    if re.fullmatch(r"[-+]?[0-9,]+", text) and "," in text:
        return _without_commas(text)
    if re.fullmatch(r"[0-9][0-9_]*(\.[0-9]+)?", text) and "_" in text:
        return f"write it without _: {text.replace('_', '')}"
    if re.fullmatch(r"[-+]?[0-9]{1,3}(\s[0-9]{3})+([.,][0-9]+)?", text):
        return f"write it without blanks: {''.join(text.split()).replace(',', '.')}"
    if with_unit(text) is not None:
        return "write the number alone, its unit is in the key's name"
    if isinstance(resolve(text), (int, float)) and not isinstance(resolve(text), bool):
        return "leave the quotation marks out"
    return ""


def with_unit(text: str) -> tuple[str, str] | None:
    """(number, unit) of a text such as `27%` or `1,5 kg`; None if it is none."""
    found = re.fullmatch(r"([-+]?[0-9.,]*[0-9][0-9.,]*)\s*(%|[^\W\d_%][\w/%^]*)", text.strip())
    return None if found is None else (found[1], found[2])


def _without_commas(text: str) -> str:
    """What is meant by a comma: a point, or, before three digits, perhaps thousands."""
    thousands, point = text.replace(",", ""), text.replace(",", ".")
    if re.fullmatch(r"[-+]?[1-9][0-9]{0,2}(,[0-9]{3}){2,}", text):
        return f"write it without commas: {thousands}"
    if re.fullmatch(r"[-+]?[1-9][0-9]{0,2},[0-9]{3}", text):
        return f"write it without a comma: {thousands}, or {point} if that is meant"
    return f"write a point, not a comma: {point}" if text.count(",") == 1 else ""
