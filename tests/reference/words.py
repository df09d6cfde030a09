"""One line of a program split into words, by the line format of NIST RS274/NGC and common printing usage.

Rules are cited by section of the NIST RS274/NGC report (NISTIR 6556). Where printing machines do
otherwise (E words, `;` comments, checksums, free text, exponents) the docstring says so; for those
there is no source but common practice.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

BLANKS = " \t"
DIGITS = "0123456789"
LETTERS = "ABCDEFGHIJKLMNPQRSTUVWXYZ"
"""Letters that may start a word: O (subprograms) is not among them."""
TEXT_CODES = frozenset({23, 28, 30, 32, 36, 117, 118})
"""M codes of printing usage whose argument is the rest of the line, as text."""
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
EXPONENT = re.compile(r"([eE])[+-]([0-9]{1,3})(?![0-9.])")
NAMED_COMMAND = re.compile(r"[A-Za-z][A-Za-z_]")
LAST_CHECKSUM = re.compile(r"\*[ \t]*[0-9]+[ \t]*$")


class LineError(ValueError):
    """The line breaks a rule; the text says which."""


@dataclass(frozen=True, slots=True)
class Word:
    """A letter (upper case) and its number; None if no number follows it (a flag)."""

    letter: str
    value: Decimal | None


@dataclass(frozen=True, slots=True)
class Line:
    """What stands on a line, comments left out."""

    words: tuple[Word, ...] = ()
    number: int | None = None
    text: str | None = None
    """The argument of a text code, or a named command as a whole."""
    named: bool = False
    """The line is a command with a name (two letters side by side), not G-code words."""
    block_delete: bool = False


class Reader:
    """A place in the line that only moves forward."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0

    def peek(self) -> str:
        """The next character; empty at the end of the line."""
        return self.text[self.at : self.at + 1]

    def take(self) -> str:
        """The next character, and step over it."""
        char = self.peek()
        self.at += 1
        return char

    def skip_blanks(self) -> None:
        """Spaces and tabs never change the meaning (3.3)."""
        while self.peek() in BLANKS and self.peek() != "":
            self.at += 1


def read_line(raw: bytes, *, first: bool = False, number_digits: int | None = None) -> Line:
    """Split one line. `first` lets it begin with a byte order mark; `number_digits` limits N.

    Order on a line (3.3): block delete, line number, words and comments. Raises LineError.
    """
    if first:
        raw = raw.removeprefix(BYTE_ORDER_MARK)
    text = raw.replace(b"\0", b"").rstrip(b"\r\n").decode("latin-1")
    reader = Reader(text)
    reader.skip_blanks()
    if reader.peek() == "%":  # 3.1: brackets the program
        return Line()
    block_delete = reader.peek() == "/"
    if block_delete:
        reader.take()
        reader.skip_blanks()
    start = reader.at
    if NAMED_COMMAND.match(text, start):
        return Line(named=True, text=as_text(text[start:]), block_delete=block_delete)
    number = read_line_number(reader, number_digits)
    words, argument = read_words(reader, start, numbered=number is not None)
    return Line(words, number, argument, block_delete=block_delete)


def read_line_number(reader: Reader, most_digits: int | None) -> int | None:
    """N and an unsigned integer, before all words (3.3.1); None if there is none.

    The report allows 5 digits; printing files have more lines than that.
    """
    if reader.peek().upper() != "N":
        return None
    reader.take()
    digits = ""
    while reader.peek() != "" and reader.peek() in DIGITS + BLANKS:
        digits += reader.take().strip(BLANKS)
    if digits == "":
        raise LineError("a line number is N and an unsigned integer")
    if most_digits is not None and len(digits) > most_digits:
        raise LineError(f"a line number has at most {most_digits} digits")
    return int(digits)


def read_words(reader: Reader, start: int, *, numbered: bool) -> tuple[tuple[Word, ...], str | None]:
    """All words up to the end of the line, and the text argument if a text code stands there."""
    words: list[Word] = []
    argument = None
    while True:
        reader.skip_blanks()
        char = reader.peek()
        if char in ("", ";"):  # printing usage: a comment up to the end of the line
            break
        if char == "(":
            skip_comment(reader)
        elif char == "*":
            check_checksum(reader, start)
            check_end(reader)
            break
        elif char.upper() in LETTERS:
            words.append(read_word(reader))
            if is_text_code(words[-1]):
                argument = read_text_argument(reader, start, numbered=numbered)
                break
        else:
            raise LineError(f"{char!r} can't stand here")
    check_line_number_words(words)
    return tuple(words), argument


def skip_comment(reader: Reader) -> None:
    """Text in parentheses, closed on its line and not nested (3.3.4)."""
    reader.take()
    while reader.peek() != ")":
        if reader.peek() == "":
            raise LineError("a comment is not closed")
        if reader.peek() == "(":
            raise LineError("a comment stands inside a comment")
        reader.take()
    reader.take()


def read_word(reader: Reader) -> Word:
    """A letter, in either case, and a real number (3.3.2); in printing usage the number may be missing."""
    letter = reader.take()
    reader.skip_blanks()
    return Word(letter.upper(), read_number(reader, letter))


def read_number(reader: Reader, letter: str) -> Decimal | None:
    """Sign, digits, at most one point, at least one digit (3.3.2.1), blanks anywhere (3.3).

    Printing usage adds an exponent, and ends the number of a text code at its first blank.
    """
    number = ""
    if reader.peek() != "" and reader.peek() in "+-":
        number += reader.take()
    while True:
        char = reader.peek()
        if char == "":
            break
        if char in DIGITS or (char == "." and "." not in number):
            number += reader.take()
        elif char in BLANKS:
            if letter in "Mm" and number.isdecimal() and int(number) in TEXT_CODES:
                break
            reader.take()
        else:
            number += read_exponent(reader, letter)
            break
    if number == "":
        return None
    if not any(char in DIGITS for char in number):
        raise LineError(f"{letter.upper()} has a number without a digit")
    return Decimal(number)


def read_exponent(reader: Reader, letter: str) -> str:
    """The exponent at this place, or "" if what stands here is the next word.

    An e, a sign and one to three digits belong to the number directly before them when neither a
    digit nor a point follows, and when the e can't well be an E word: because it is lower case
    and the word's letter is not, or because there are two digits or more.
    """
    found = EXPONENT.match(reader.text, reader.at)
    if found is None or reader.at == 0 or reader.text[reader.at - 1] not in DIGITS + ".":
        return ""
    lower_e_after_upper_letter = found[1] == "e" and letter.isupper()
    if not lower_e_after_upper_letter and len(found[2]) < 2:
        return ""
    reader.at = found.end()
    return found[0]


def is_text_code(word: Word) -> bool:
    """Whether the rest of the line is this word's text."""
    return word.letter == "M" and word.value is not None and word.value in TEXT_CODES


def read_text_argument(reader: Reader, start: int, *, numbered: bool) -> str:
    """The rest of the line; on a numbered line a checksum at its end is not part of it."""
    found = LAST_CHECKSUM.search(reader.text, reader.at) if numbered else None
    if found is None:
        return as_text(reader.text[reader.at :])
    argument = reader.text[reader.at : found.start()]
    reader.at = found.start()
    check_checksum(reader, start)
    return as_text(argument)


def as_text(latin: str) -> str:
    """Characters that stand for one byte each, as the text those bytes are, without outer blanks."""
    return latin.encode("latin-1").decode("utf-8", "replace").strip()


def check_checksum(reader: Reader, start: int) -> None:
    """`*` and the exclusive or, in decimal, of all bytes from `start` up to the `*` (printing usage)."""
    expected = checksum(reader.text[start : reader.at].encode("latin-1"))
    reader.take()
    digits = ""
    while reader.peek() != "" and reader.peek() in DIGITS + BLANKS:
        digits += reader.take().strip(BLANKS)
    if digits == "":
        raise LineError("no checksum stands after the *")
    if int(digits) != expected:
        raise LineError(f"the checksum is {digits} but the line's is {expected}")


def checksum(content: bytes) -> int:
    """Exclusive or of all bytes."""
    result = 0
    for byte in content:
        result ^= byte
    return result


def check_end(reader: Reader) -> None:
    """After a checksum only comments may follow."""
    reader.skip_blanks()
    while reader.peek() == "(":
        skip_comment(reader)
        reader.skip_blanks()
    if reader.peek() not in ("", ";"):
        raise LineError("something stands after the checksum")


def check_line_number_words(words: list[Word]) -> None:
    """N stands before all words (3.3.1); only M110, which sets the line count, has a second one."""
    has_n = any(word.letter == "N" for word in words)
    has_m110 = any(word.letter == "M" and word.value == 110 for word in words)
    if has_n and not has_m110:
        raise LineError("the line number is not in its place")
