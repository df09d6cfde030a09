"""Keeps a file with line numbers and checksums valid: numbers follow on, checksums fit."""

from __future__ import annotations

import re
from functools import reduce
from operator import xor

from gpost.common.later import later
from gpost.read.oddline import TEXT_CODES, takes_text

_NUMBER = later(rb"(?P<lead>(?:\xef\xbb\xbf)?[ \t]*/?[ \t]*)[Nn][ \t]*(?P<number>\d+)[ \t]*")
_FIRST = later(rb"^" + _NUMBER.pattern + rb".*", re.MULTILINE)
_CODE = later(rb"(?:\([^()]*\)|[^;(])*")
_SUM = later(rb"\*[ \t]*(?P<sum>\d+)(?P<after>(?:[ \t]*\([^()]*\))*[ \t]*)$")
_MCODE = later(rb"[Mm][ \t]*0*(\d+)(?![\d.])")
_SET_NUMBER = 110
_NEW_NUMBER = later(rb"[Nn][ \t]*(\d+)")


class Renumberer:
    """Gives every command its number and checksum anew, in one pass, from the first checksum on.

    Such numbers must follow on one another (common practice, no source). A line that is right as it
    stands keeps its bytes. Numbers without checksums need no order (NIST RS274/NGC report, section
    3.3.1): in a file that has no others they stay, and inserted lines have none.
    """

    def __init__(self, start: bytes = b"") -> None:
        """`start`: the file's first lines; what is inserted before the first number takes it over."""
        self._next: int | None = None
        first = _FIRST.search(start)
        if first and _SUM.search(_code(first[0].rstrip(b"\r"))):
            self._next = int(first["number"])

    def source(self, data: bytes) -> bytes:
        """Renumber lines of the source (the last one may lack its newline)."""
        return b"".join(self._line(line) for line in data.splitlines(keepends=True))

    def inserted(self, line: bytes) -> bytes:
        """Number one inserted line, without its newline."""
        if self._next is None or line.startswith(b";"):
            return line
        return self._with_number(line, summed=True)

    def _line(self, line: bytes) -> bytes:
        body = line.rstrip(b"\r\n")
        code = _code(body)
        summed, numbered = _SUM.search(code), _NUMBER.match(body)
        if not (summed or (numbered and self._next is not None)):
            return line
        said = code[: summed.start()] if summed else code
        if not numbered:
            return _resummed(said, summed) + line[len(code) :] if summed else line
        said = said[numbered.end() :]
        command = _MCODE.match(said)
        sets = command is not None and int(command[1]) == _SET_NUMBER
        if self._next is None or sets:
            self._next = int(numbered["number"])
        lead, old = numbered["lead"], body[numbered.end("lead") : len(code)]
        new = self._with_number(said, summed=summed is not None) + (summed["after"] if summed else b"")
        if sets and (own := _NEW_NUMBER.search(said)):
            self._next = int(own[1]) + 1
        return lead + (old if _same(old, new) else new) + line[len(code) :]

    def _with_number(self, code: bytes, *, summed: bool) -> bytes:
        """A line with the next number and, if asked for, its checksum."""
        assert self._next is not None
        text = b"N%d " % self._next + code
        self._next += 1
        return text + b"*%d" % checksum(text) if summed else text


def _code(body: bytes) -> bytes:
    """The line without its last comment, but with its checksum; in a text there are no comments."""
    number = _NUMBER.match(body)
    command = _MCODE.match(body, number.end() if number else 0)
    if command and takes_text(int(command[1]), body[command.end() :]):
        return body if int(command[1]) in TEXT_CODES else body.partition(b";")[0]
    found = _CODE.match(body)
    return found[0] if found else b""


def _resummed(said: bytes, summed: re.Match[bytes]) -> bytes:
    """A line without a number, its checksum fixed if it was edited."""
    right = checksum(said)
    if int(summed["sum"]) == right:
        return summed.string
    return said + b"*%d" % right + summed["after"]


def _same(old: bytes, new: bytes) -> bool:
    """Whether a line that is right as it stands has the number and checksum that it is to have."""
    a, b = _NUMBER.match(old), _NUMBER.match(new)
    if not (a and b) or int(a["number"]) != int(b["number"]):
        return False
    summed = _SUM.search(old)
    return summed is None or checksum(old[: summed.start()]) == int(summed["sum"])


def checksum(text: bytes) -> int:
    """Exclusive or of all bytes of a line, from its N up to, not including, the `*`."""
    return reduce(xor, text, 0)
