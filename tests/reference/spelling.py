"""How a line of G-code may be written: the same words in many spellings, and a file made of such lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import reduce
from operator import xor
from typing import Literal, TypeAlias

WordPair: TypeAlias = tuple[str, Decimal | None]
CodeStyle: TypeAlias = Literal["short", "two digits", "three digits", "point"]
NumberStyle: TypeAlias = Literal[
    "plain", "zeros", "no zero", "point", "exponent", "short exponent", "EXPONENT"
]
MAY_HAVE_EXPONENT = "XYZEIJKR"


@dataclass(frozen=True)
class Spelling:
    """How one line is written."""

    lower: bool = False
    gap: str = " "
    """Between words; may be empty."""
    code: CodeStyle = "short"
    """G1, G01, G001 or G1.0."""
    number: NumberStyle = "plain"
    plus: bool = False
    """Numbers that are not negative have a + sign."""
    blanks_in_numbers: bool = False
    turn: int = 0
    """The words are turned round by so many places: their order means nothing (NIST RS274/NGC 3.3.6)."""
    inside: bytes = b""
    """A comment in parentheses after the first word."""
    after: bytes = b""
    """A comment at the end, in parentheses or after a semicolon."""
    slash: bool = False
    """Begins with a block delete."""


@dataclass(frozen=True)
class Form:
    """How a whole file is written."""

    newline: bytes = b"\n"
    last_newline: bool = True
    numbering: Literal["none", "number", "checksum"] = "none"
    byte_order_mark: bool = False
    percent: bool = False
    """Bracketed by lines that hold a % alone."""


@dataclass(frozen=True)
class Written:
    """One line, not yet numbered: its words, and the comment at its end."""

    content: bytes
    after: bytes = b""
    slash: bool = False
    numbered: bool = True
    """False for lines that never get a number: blank lines, comments."""


def write_words(codes: Sequence[str], words: Sequence[WordPair], how: Spelling) -> Written:
    """A line of codes (`G1`, `M106`, `G92.1`) and words, in the spelling asked for."""
    parts = [code_text(code, how) for code in codes] + [word_text(*word, how) for word in words]
    if all(value is not None for _, value in words):  # a line that begins with flags reads as a name
        turn = how.turn % max(len(parts), 1)
        parts = parts[turn:] + parts[:turn]
    if how.lower:
        parts = [part.lower() for part in parts]
    encoded = [part.encode() for part in parts]
    if how.inside and encoded:
        encoded[0] += how.inside
    return Written(how.gap.encode().join(encoded), how.after, how.slash)


def code_text(code: str, how: Spelling) -> str:
    """`G1` in one of its spellings; `G92.1` has only one."""
    letter, number = code[0], code[1:]
    if "." in number or how.code == "short":
        return code
    if how.code == "point":
        return f"{code}.0"
    return f"{letter}{int(number):0{2 if how.code == 'two digits' else 3}d}"


def word_text(letter: str, value: Decimal | None, how: Spelling) -> str:
    """A letter and its number, exactly the value; a flag has no number.

    Where no blank stands before an E word it gets a point, so that it can't be an exponent.
    """
    if value is None:
        return letter
    text = number_text(value, how.number, lower=how.lower, exponent=letter in MAY_HAVE_EXPONENT)
    if letter == "E" and how.gap == "" and "." not in text:
        text += "."
    if how.plus and value >= 0:
        text = f"+{text}"
    if how.blanks_in_numbers and "e" not in text.lower():
        text = " ".join(text)
    return letter + text


def number_text(value: Decimal, style: NumberStyle, *, lower: bool, exponent: bool) -> str:
    """The number, exactly, in one of its spellings."""
    plain = format(value, "f")
    if "." in plain:
        plain = plain.rstrip("0").rstrip(".")
    if value == 0:
        plain = "0"
    if "xponent" in style.lower():
        return exponent_text(value, style, lower=lower) if exponent else plain
    if style == "zeros":
        return plain + ("00" if "." in plain else ".00")
    if style == "no zero" and plain.lstrip("-").startswith("0."):
        return plain.replace("0.", ".", 1)
    if style == "point" and "." not in plain:
        return f"{plain}."
    return plain


def exponent_text(value: Decimal, style: NumberStyle, *, lower: bool) -> str:
    """The number with an exponent; of one digit only where an E word could not be meant."""
    sign, digits, power = value.normalize().as_tuple()
    assert isinstance(power, int)
    power = 0 if value == 0 else power + len(digits) - 1
    mantissa = f"{'-' if sign and value else ''}{digits[0]}." + ("".join(map(str, digits[1:])) or "0")
    width = 2 if style == "short exponent" and not lower else 3
    letter = "E" if style == "EXPONENT" else "e"
    return f"{mantissa}{letter}{power:+0{width}d}"


def write_file(lines: Sequence[Written], form: Form) -> bytes:
    """The file as bytes. A blank last line keeps its newline: without it there would be no such line."""
    out = [number_line(line, index, form) for index, line in enumerate(lines, 1)]
    if form.percent:
        out = [b"%", *out, b"%"]
    start = b"\xef\xbb\xbf" if form.byte_order_mark else b""
    last = form.newline if out and (form.last_newline or out[-1] == b"") else b""
    return start + form.newline.join(out) + last


def number_line(line: Written, number: int, form: Form) -> bytes:
    """One line with what the form adds: line number, checksum, block delete."""
    blank = b" " if line.content and line.after else b""
    if form.numbering == "none" or not line.numbered:
        return (b"/" if line.slash and line.content else b"") + line.content + blank + line.after
    content = b"N%d " % number + line.content
    if form.numbering == "number":
        return (b"/" if line.slash else b"") + content + blank + line.after
    if line.after.startswith(b"("):
        content += blank + line.after
        return content + b"*%d" % reduce(xor, content)
    return content + b"*%d" % reduce(xor, content) + blank + line.after
