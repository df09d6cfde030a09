"""Changes bytes at random, with a taste for what G-code and YAML readers may stumble over."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random

LONGEST = 40_000
"""Longer inputs cost time and find nothing more."""

WORDS = (
    b"G0 G1 G2 G3 G4 G10 G11 G17 G18 G19 G20 G21 G28 G53 G80 G90 G91 G92 G92.1 G92.3 G93 G94 M0 M1 M2 M30 M82 M83 "
    b"M84 M101 M103 M104 M106 M107 M109 M117 M118 M220 M221 M600 T0 T1 X Y Z E F I J R S P N * ; ( ) % / # [ ] "
    b"O100 IF \" ' : - ? & ! | > { } , << --- ... ~ null true .nan .inf *a &a !!str "
    b"steps: machine: clay: cartridge: layers: metering: unit: tally cold purge swap refill fan taper"
).split()
NUMBERS = (
    b"0 -0 1 -1 0.1 .5 5. +7 00 255 1e5 1e-5 1E+300 1e400 -1e300 1e-300 999999999999 0.0000000001 4294967296 "
    b"9223372036854775808 0x10 1_000 12:30 1,5 1.2.3 -- NaN inf"
).split()
SPECIAL = (
    b"\n",
    b"\r\n",
    b"\r",
    b"\0",
    b"\t",
    b" ",
    b"\xef\xbb\xbf",
    b"\xff",
    b"\x1b",
    b"\xe2\x80\xa8",
    b"\xc2\x85",
)

Change = Callable[[bytearray, Random], None]


def mutated(data: bytes, draw: Random, others: Sequence[bytes] = ()) -> bytes:
    """The data with one to eight changes; `others` are inputs from which parts may be taken."""
    changed = bytearray(data[:LONGEST])
    for _ in range(1 << draw.randrange(4)):
        if others and draw.random() < 0.1:
            _graft(changed, draw, draw.choice(others))
        else:
            draw.choice(CHANGES)(changed, draw)
    return bytes(changed[:LONGEST])


def _place(data: bytearray, draw: Random) -> int:
    return draw.randrange(len(data) + 1)


def _stretch(data: bytes | bytearray, draw: Random, longest: int = 200) -> slice:
    start = draw.randrange(len(data) + 1)
    return slice(start, start + draw.randrange(1, longest))


def _graft(data: bytearray, draw: Random, other: bytes) -> None:
    data[_stretch(data, draw)] = other[_stretch(other, draw, 1000)]


def _flip(data: bytearray, draw: Random) -> None:
    if data:
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)


def _byte(data: bytearray, draw: Random) -> None:
    if data:
        data[draw.randrange(len(data))] = draw.randrange(256)


def _delete(data: bytearray, draw: Random) -> None:
    del data[_stretch(data, draw, draw.choice((2, 10, 1000)))]


def _repeat(data: bytearray, draw: Random) -> None:
    place = _place(data, draw)
    data[place:place] = data[_stretch(data, draw)] * draw.choice((1, 2, 30))


def _insert(data: bytearray, draw: Random) -> None:
    place = _place(data, draw)
    data[place:place] = draw.choice(draw.choice((WORDS, NUMBERS, SPECIAL)))


def _line(data: bytearray, draw: Random) -> None:
    place = data.find(b"\n", _place(data, draw)) + 1
    words = [
        draw.choice(WORDS) + draw.choice((b"", draw.choice(NUMBERS))) for _ in range(draw.randrange(1, 5))
    ]
    data[place:place] = draw.choice((b" ", b"")).join(words) + b"\n"


def _number(data: bytearray, draw: Random) -> None:
    """Put another number in the place of one."""
    start = _place(data, draw)
    while start < len(data) and not 48 <= data[start] <= 57:
        start += 1
    end = start
    while end < len(data) and (48 <= data[end] <= 57 or data[end] == 46):
        end += 1
    data[start:end] = draw.choice(NUMBERS)


def _swap_lines(data: bytearray, draw: Random) -> None:
    lines = bytes(data).split(b"\n")
    first, second = draw.randrange(len(lines)), draw.randrange(len(lines))
    lines[first], lines[second] = lines[second], lines[first]
    data[:] = b"\n".join(lines)


CHANGES: tuple[Change, ...] = (
    _flip,
    _byte,
    _delete,
    _repeat,
    _insert,
    _insert,
    _line,
    _number,
    _number,
    _swap_lines,
)
