"""The exact path for a line that the vectorised reader hands over: slow, complete, and outspoken."""

from __future__ import annotations

import math
import re
from dataclasses import field
from enum import StrEnum

from gpost.common.later import later
from gpost.common.records import record
from gpost.errors import SourceError

TEXT_CODES = frozenset({23, 28, 30, 32, 36, 117, 118})
"""M codes whose line goes on as text (a message, a file name): common practice, no source."""

WAITING_CODES = frozenset({0, 1})
"""M codes that wait: what follows may be words (`M0 P5`) or a text (`M0 Change clay`); the same."""

KNOWN_CODES = frozenset(
    {
        *range(10), 17, 18, 20, 21, 24, 25, 26, 27, 30, 42, 48, 49, 60, 73, 75, 76, 77, *range(80, 86),
        92, *range(97, 120), 140, 141, 163, 164, 165, 190, 191, 201, 203, 204, 205, *range(206, 210),
        220, 221, 226, 280, 300, 301, 302, 303, 304, 400, 567, 600, 900,
    }
)  # fmt: skip
"""M codes that mean something to gpost, or whose words are common: a text behind one of them is a slip."""

LISTING_CODES = frozenset({92, 115, *range(201, 209), 301, 304, 305, 350, *range(550, 594), *range(906, 919)})
"""M codes whose words may hold lists (`M92 E420:420`) or versions (`M115 U3.14.0`); gpost takes no number of
them. Common practice, no source."""

SUBPROGRAM = (
    "this line branches, loops or calls a subprogram; gpost can't know ahead where it leads. Export the "
    "piece as plain moves"
)

_WORD = later(
    rb"([A-Za-z*])[ \t]*"
    rb"((?:[+-][ \t]*)?(?:\d[\d \t]*\.?[\d \t]*|\.[ \t]*\d[\d \t]*))?"
)
_LIST = later(rb"(?:[:.][\d.]+)+(?![\d.:,+-])")
_EXPONENT = later(rb"([eE])([+-]?)(\d{1,3})(?![\d.])")
_NAME = later(rb"[A-Za-z][A-Za-z_]")
_NUMBERED = later(rb"[Nn][ \t]*\d[\d \t]*")
_LOOPS = later(rb"(?i)(if|while|end|goto|do|call|return|o[ \t]*\d+)(?!\w)|o[ \t]*<")
_M_NUMBER = later(rb"[Mm][ \t]*(\d{1,9})(?![\d.])")
_COMMENT_OR_M = later(rb"[;()]|" + _M_NUMBER.pattern)
_LAST_SUM = later(rb"\*[ \t]*\d+$")
_ONLY_WORDS = later(rb"[\d. \t+-]*+(?:[A-Za-z](?![A-Za-z'])[\d. \t+-]*+)*+\r?(?:[;(*].*)?", re.DOTALL)
_OTHER_WORD = later(rb"[ \t]*+(?:[PSps][ \t]*+[+-]?[\d. \t]++)*+[A-OQRT-Za-oqrt-z][+-]?[\d.]")
"""After words with P and S, one that no code that waits has."""
_QUOTED = later(rb"\"[^\"]*\"|'[^']*'")
_COULD_ACT = later(rb"(?<![A-Za-z'_])[A-OQRT-Za-oqrt-z][ \t]*[+-]?[ \t]*\.?\d|[#\[]")
"""What could be a word to a machine that takes no text, or what it could compute with."""
_PROGRAM_NUMBER = later(rb"[Oo:][ \t]*\d[\d \t]*")
"""Of ISO 6983-1 (a program's number stands before its first block); the sign `:` is its other spelling."""


def takes_text(code: int, rest: bytes) -> bool:
    """Whether what follows this M code on its line, `rest`, is text and no words.

    After a code that waits it is text unless all of it is words, or the first word is none that such codes
    have (P and S): a move must not be taken for a text. After a code that nobody here knows it is text if it
    is not all words and quoted texts, and nothing in it could be a word but P and S, whatever the machine
    makes of it. Common practice, no source.
    """
    if code in TEXT_CODES:
        return True
    if code in WAITING_CODES:
        return not (_ONLY_WORDS.fullmatch(rest) or _OTHER_WORD.match(rest))
    bare = _QUOTED.sub(b" ", rest)
    return code not in KNOWN_CODES and not (_ONLY_WORDS.fullmatch(bare) or _COULD_ACT.search(bare))


class Odd(StrEnum):
    """What can be odd about a line that is still read."""

    TEXT = "text"
    UNKNOWN_TEXT = "unknown code with text"
    PROGRAM_NUMBER = "program number"
    LAST_PERCENT = "percent behind words"
    BLOCK_DELETE = "block delete"
    EXPONENT = "exponent"
    NUL = "nul"
    BOM = "byte order mark"
    NAMED_COMMAND = "named command"
    PERCENT = "percent"
    FLAG = "letter without number"
    QUOTED = "quoted text"
    SPACED = "spaces inside a number"
    LIST = "several numbers in a word"


@record(slots=True)
class OddWords:
    """The words of one line; positions count from the line's first byte."""

    letter: list[int] = field(default_factory=list)
    start: list[int] = field(default_factory=list)
    end: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    kinds: list[Odd] = field(default_factory=list)

    def add(self, letter: bytes, start: int, end: int, value: float) -> None:
        """Add one word; NaN for a letter without a number."""
        self.letter.append(letter.upper()[0])
        self.start.append(start)
        self.end.append(end)
        self.value.append(value)


def read_line(raw: bytes, line: int) -> OddWords:
    """All words of one line. `line` is its 0-based number, for messages.

    Raises SourceError for what can't be known ahead (expressions, parameters, subprograms, loops)
    and for what is no number, no word, and no comment.
    """
    words = OddWords()
    text = _blank_strange(raw, words, line)
    text = _blank_comments(text, line)
    body = text.strip()
    if not body:
        return words
    if body.startswith(b"%"):
        words.kinds.append(Odd.PERCENT)
        return words
    if _PROGRAM_NUMBER.fullmatch(body):
        words.kinds.append(Odd.PROGRAM_NUMBER)
        return words
    _refuse_loops(body, line)
    if _NAME.match(body):
        words.kinds.append(Odd.NAMED_COMMAND)
        return words
    _read_words(text, words, line)
    return words


def body_of(raw: bytes, line: int) -> bytes:
    """What a line says, without its comments and what is strange before it, as `read_line` reads it."""
    return _blank_comments(_blank_strange(raw, OddWords(), line), line).strip()


def text_behind(raw: bytes, line: int) -> bytes:
    """What stands behind the code whose line goes on as text; nothing if no code's does."""
    body = body_of(raw, line)
    codes = ((int(found[1]), body[found.end() :]) for found in _M_NUMBER.finditer(body))
    return next((rest for code, rest in codes if takes_text(code, rest)), b"")


def _blank_strange(text: bytes, words: OddWords, line: int) -> bytes:
    """Without byte order mark, NUL bytes and block-delete sign; each is remembered, positions stay."""
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


def _blank_comments(text: bytes, line: int) -> bytes:
    """The line with its comments replaced by blanks, so that positions stay.

    After an M code that takes text no comment can begin: a message may hold a lonely bracket.
    """
    kept = bytearray(text)
    place = 0
    while found := _COMMENT_OR_M.search(kept, place):
        place = found.end()
        sign = found[0]
        if found[1] is not None:
            if takes_text(int(found[1]), bytes(kept[place:])):
                kept = kept if int(found[1]) in TEXT_CODES else kept.partition(b";")[0]
                break
        elif sign == b";":
            del kept[found.start() :]
        elif sign == b")":
            said = "this comment closes with ')' but never opened; add the '(' or remove the ')'"
            raise SourceError(said, line=line)
        else:
            place = _end_of_comment(kept, found.start(), line)
            kept[found.start() : place] = b" " * (place - found.start())
    return bytes(kept)


def _end_of_comment(text: bytearray, start: int, line: int) -> int:
    """Index after the bracket that closes the comment. They don't nest (NIST RS274/NGC, section 3.3.4)."""
    close = text.find(b")", start)
    if close < 0:
        raise SourceError("this comment opens with '(' but never closes; add the ')'", line=line)
    if text.find(b"(", start + 1, close) >= 0:
        raise SourceError("a comment in brackets stands inside another; remove the inner brackets", line=line)
    return close + 1


def _refuse_loops(body: bytes, line: int) -> None:
    numbered = _NUMBERED.match(body)
    if _LOOPS.match(body, numbered.end() if numbered else 0):
        raise SourceError(SUBPROGRAM, line=line)


def _read_words(text: bytes, words: OddWords, line: int) -> None:
    place = 0
    end = len(text.rstrip())
    while place < end:
        sign = text[place : place + 1]
        if sign in b" \t\r":
            place += 1
        elif text[place:end] == b"%":
            words.kinds.append(Odd.LAST_PERCENT)
            return
        elif sign in b"\"'":
            place = _skip_quoted(text, place, words, line)
        elif sign in b"#[":
            raise SourceError(
                "this line computes with parameters or expressions ('#', '['); gpost can't know its values "
                "ahead. Export the piece as plain numbers",
                line=line,
            )
        elif (found := _M_NUMBER.match(text, place)) and takes_text(int(found[1]), text[found.end() :]):
            _add_text_code(text[:end], found, words)
            return
        elif found := _WORD.match(text, place):
            place = _add_word(text, found, words, line)
        else:
            raise SourceError(_strange(text[place:]), line=line)


def _skip_quoted(text: bytes, place: int, words: OddWords, line: int) -> int:
    close = text.find(text[place : place + 1], place + 1)
    if close < 0:
        raise SourceError("a quotation mark opens here and never closes; close it", line=line)
    words.kinds.append(Odd.QUOTED)
    return close + 1


def _add_text_code(text: bytes, found: re.Match[bytes], words: OddWords) -> None:
    """A code that takes text; on a numbered line a checksum at the end is not part of the text."""
    words.add(b"M", found.start(), found.end(), float(found[1]))
    known = int(found[1]) in TEXT_CODES | WAITING_CODES
    words.kinds.append(Odd.TEXT if known else Odd.UNKNOWN_TEXT)
    total = _LAST_SUM.search(text, found.end())
    if total and words.letter[0] == ord("N"):
        words.add(b"*", total.start(), total.end(), float(total[0][1:]))


def _add_word(text: bytes, found: re.Match[bytes], words: OddWords, line: int) -> int:
    letter, number = found[1], found[2]
    if number is None:
        if text[found.end() : found.end() + 1] in (b"+", b"-", b".", b","):
            raise SourceError(_strange(text[found.start() :]), line=line)
        words.kinds.append(Odd.FLAG)
        words.add(letter, found.start(), found.start() + 1, math.nan)
        return found.start() + 1
    end = found.start() + len(found[0].rstrip())
    digits = bytes(c for c in number if c not in b" \t")
    if len(digits) != len(number.rstrip()):
        words.kinds.append(Odd.SPACED)
    power = _exponent(text, letter, end, line)
    if power:
        words.kinds.append(Odd.EXPONENT)
        digits, end = digits + power, end + len(power)
    more = _LIST.match(text, end) if _may_list(words, letter) else None
    if more:
        words.kinds.append(Odd.LIST)
        end = more.end()
    _refuse_glued(text, found.start(), end, line)
    value = float(digits)
    if not math.isfinite(value):
        raise SourceError(f"{_shown(digits[:24])} is too large a number; slice the piece again", line=line)
    words.add(letter, found.start(), end, value)
    return end


def _exponent(text: bytes, letter: bytes, end: int, line: int) -> bytes:
    """The exponent that belongs to the number which ends here, or nothing.

    In `X-3e-05` the e is part of the number; in `G1X10E5` it is a word. It is part of the number if it
    follows a digit directly, has a sign, and either has two digits or more or is a small letter on a line
    whose words are capitals. A small e without a sign, `X10e5`, could be either: common practice, no source.
    """
    tail = _EXPONENT.match(text, end)
    if not tail or letter in b"GMTNgmtn*":
        return b""
    small = tail[1] == b"e" and letter.isupper()
    if small and not tail[2]:
        word = text[text.rfind(letter, 0, end) : tail.end()]
        raise SourceError(
            f"{_shown(word)} may be a number with an exponent, or a number and an E word; write it without "
            "an exponent",
            line=line,
        )
    return tail[0] if tail[2] and (small or len(tail[3]) >= 2) else b""


def _may_list(words: OddWords, letter: bytes) -> bool:
    """Whether a word on this line may hold more than one number: behind such M codes alone, and no G code."""
    known = zip(words.letter, words.value, strict=True)
    codes = {value for before, value in known if before == ord("M")}
    return (
        bool(codes) and codes <= LISTING_CODES and ord("G") not in words.letter and letter not in b"GMTNgmtn*"
    )


def _refuse_glued(text: bytes, start: int, end: int, line: int) -> None:
    """A number must be followed by a blank, another word or the end: `1.2.3` and `1-2` are none."""
    after = text[end : end + 1]
    if after and after in b".,:+-/0123456789":
        raise SourceError(_strange(text[start : end + 16]), line=line)


def _strange(rest: bytes) -> str:
    comma = "; numbers are written with a point" if b"," in rest[:24] else ""
    return f"{_shown(rest[:24])} can't be read as G-code; fix or remove the line{comma}"


def _shown(raw: bytes) -> str:
    """Bytes as they may be shown to a person: printable, in quotes."""
    text = raw.decode("utf-8", "replace").rstrip()
    return '"' + "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text) + '"'
