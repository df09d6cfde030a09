"""The exact path for a line that the vectorised reader hands over: slow, complete, and outspoken."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from enum import StrEnum

from gpost.errors import SourceError

TEXT_CODES = frozenset({23, 28, 30, 32, 36, 117, 118})
"""M codes whose line goes on as text (a message, a file name): common practice, no source."""

SUBPROGRAM_CODES = {("M", 97.0), ("M", 98.0), ("M", 99.0), ("G", 65.0), ("G", 66.0), ("G", 67.0)}

_WORD = re.compile(
    rb"([A-Za-z*])[ \t]*"
    rb"((?:[+-][ \t]*)?(?:\d[\d \t]*\.?[\d \t]*|\.[ \t]*\d[\d \t]*))?"
)
_EXPONENT = re.compile(rb"[eE][+-]?\d{1,3}(?![\d.])")
_NAME = re.compile(rb"[A-Za-z_]\w*[A-Za-z_]\w*|[A-Za-z]{2}")
_LOOPS = re.compile(rb"(?i)\s*(if|while|end|goto|do|call|return|o\d+|o<)\b")


class Odd(StrEnum):
    """What can be odd about a line that is still read."""

    TEXT = "text"
    BLOCK_DELETE = "block delete"
    EXPONENT = "exponent"
    NUL = "nul"
    BOM = "byte order mark"
    NAMED_COMMAND = "named command"
    PERCENT = "percent"
    FLAG = "letter without number"
    QUOTED = "quoted text"
    SPACED = "spaces inside a number"


@dataclass(slots=True)
class OddWords:
    """The words of one line; positions count from the line's first byte."""

    letter: list[int] = field(default_factory=list)
    start: list[int] = field(default_factory=list)
    end: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    kinds: list[Odd] = field(default_factory=list)


def read_line(raw: bytes, line: int) -> OddWords:
    """All words of one line. `line` is its 0-based number, for messages.

    Raises SourceError for what can't be known ahead (expressions, parameters, subprograms, loops)
    and for what is no number, no word, and no comment.
    """
    words = OddWords()
    text = _blank_comments(raw, line)
    text = _blank_strange(text, words, line)
    body = text.strip()
    if not body:
        return words
    if body.startswith(b"%"):
        words.kinds.append(Odd.PERCENT)
        return words
    _refuse_programs(body, line)
    if _NAME.match(body) and not _is_run_together(body):
        words.kinds.append(Odd.NAMED_COMMAND)
        return words
    _read_words(text, words, line)
    return words


def _blank_comments(raw: bytes, line: int) -> bytes:
    """The line with its comments replaced by blanks, so that positions stay."""
    if b"(" not in raw and b")" not in raw:
        cut = raw.find(b";")
        return raw if cut < 0 else raw[:cut]
    kept = bytearray(raw)
    place = 0
    while place < len(kept):
        if kept[place] == 59:
            return bytes(kept[:place])
        if kept[place] == 41:
            raise SourceError("this comment closes with ')' but never opened; mend or remove the line", line=line)
        if kept[place] == 40:
            close = kept.find(b")", place)
            if close < 0:
                # a message may hold a lonely bracket: it is text then, not a comment
                if _text_code(bytes(kept[:place])):
                    return bytes(kept)
                raise SourceError("this comment opens with '(' but never closes; add the ')'", line=line)
            kept[place : close + 1] = b" " * (close + 1 - place)
            place = close
        place += 1
    return bytes(kept)


def _text_code(head: bytes) -> bool:
    found = re.match(rb"\s*(?:[Nn]\d+\s*)?[Mm]\s*0*(\d+)(?![\d.])", head)
    return found is not None and int(found[1]) in TEXT_CODES


def _blank_strange(text: bytes, words: OddWords, line: int) -> bytes:
    """Without byte order mark, NUL bytes and block-delete sign; each is remembered."""
    if line == 0 and text.startswith(b"\xef\xbb\xbf"):
        words.kinds.append(Odd.BOM)
        text = b"   " + text[3:]
    if b"\0" in text:
        words.kinds.append(Odd.NUL)
        text = text.replace(b"\0", b" ")
    if text.lstrip().startswith(b"/"):
        words.kinds.append(Odd.BLOCK_DELETE)
        text = text.replace(b"/", b" ", 1)
    return text


def _refuse_programs(body: bytes, line: int) -> None:
    if _LOOPS.match(body):
        raise SourceError(
            "this line branches, loops or calls a subprogram; gpost can't know ahead where it leads. "
            "Export the piece as plain moves",
            line=line,
        )
    first = body[:1].upper()
    if (first in b"GM#" and (b"#" in body or b"[" in body)) or first == b"#":
        if _text_code(body):
            return
        raise SourceError(
            "this line computes with parameters or expressions ('#', '['); gpost can't know its values ahead. "
            "Export the piece as plain numbers",
            line=line,
        )


def _is_run_together(body: bytes) -> bool:
    """Whether letters that follow each other are flags of a code (`G28XY`), not a name."""
    return re.match(rb"(?i)[GMTN]\s*\d", body) is not None


def _read_words(text: bytes, words: OddWords, line: int) -> None:
    place = 0
    end = len(text.rstrip())
    while place < end:
        if text[place] in b" \t\r":
            place += 1
            continue
        if text[place] in b"\"'":
            place = _skip_quoted(text, place, words, line)
            continue
        found = _WORD.match(text, place)
        if not found:
            raise SourceError(_strange(text[place:], line), line=line)
        place = _add_word(text, found, words, line)
        if words.kinds and words.kinds[-1] is Odd.TEXT:
            return


def _skip_quoted(text: bytes, place: int, words: OddWords, line: int) -> int:
    close = text.find(text[place : place + 1], place + 1)
    if close < 0:
        raise SourceError("a quotation mark opens here and never closes; close it", line=line)
    words.kinds.append(Odd.QUOTED)
    return close + 1


def _add_word(text: bytes, found: re.Match[bytes], words: OddWords, line: int) -> int:
    letter = found[1].upper()
    start, end = found.start(), found.end()
    number = found[2]
    if number is None:
        after = text[found.end() : found.end() + 1]
        if after and after in b"+-.,":
            raise SourceError(_strange(text[start:], line), line=line)
        words.kinds.append(Odd.FLAG)
        value, end = math.nan, start + 1
    else:
        compact = bytes(c for c in number if c not in b" \t")
        if len(compact) != len(number.rstrip()) or text[start + 1 : start + 2] in (b" ", b"\t"):
            words.kinds.append(Odd.SPACED)
        end = start + len(found[0].rstrip())
        power = _exponent(text, found, end)
        if power:
            words.kinds.append(Odd.EXPONENT)
            compact, end = compact + power, end + len(power)
        value = float(compact)
        if not math.isfinite(value):
            raise SourceError(f"{_shown(compact)} is too large to be a coordinate; slice the piece again", line=line)
    _refuse_glued(text, end, line)
    for column, item in zip(
        (words.letter, words.start, words.end, words.value), (letter[0], start, end, value), strict=True
    ):
        column.append(item)  # type: ignore[attr-defined]
    if (letter.decode(), value) in SUBPROGRAM_CODES:
        raise SourceError(
            f"{letter.decode()}{value:g} calls a subprogram; gpost can't know ahead what it does. "
            "Export the piece as one plain file",
            line=line,
        )
    if letter == b"M" and value in TEXT_CODES:
        words.kinds.append(Odd.TEXT)
    return end


def _exponent(text: bytes, found: re.Match[bytes], end: int) -> bytes:
    """The exponent that belongs to this number, or nothing.

    In `X-3e-05` the e is part of the number; in `G1X10E5` it is a word. It is part of the number if it
    follows a digit directly, and either has two digits or more after a sign, or is a small letter on a
    line whose words are capitals.
    """
    tail = _EXPONENT.match(text, end)
    if not tail or found[1] in b"GMTNgmtn*":
        return b""
    power = tail[0]
    signed = power[1:2] in (b"+", b"-")
    small = power[:1] == b"e" and found[1].isupper()
    return power if small or (signed and len(power) >= 4) else b""


def _refuse_glued(text: bytes, end: int, line: int) -> None:
    """A number must be followed by a blank, another word or the end: `1.2.3` and `1-2` are none."""
    after = text[end : end + 1]
    if after and after in b".,+-/0123456789":
        raise SourceError(_strange(text[max(0, end - 8) :], line), line=line)


def _strange(rest: bytes, line: int) -> str:
    return f"{_shown(rest[:24])} is no word of G-code; mend or remove the line"


def _shown(raw: bytes) -> str:
    """Bytes as they may be shown to a person: printable, in quotes."""
    text = raw.decode("utf-8", "replace").rstrip()
    return '"' + "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text) + '"'
