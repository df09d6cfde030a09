"""Which lines of a block move: the codes and axis words on them, and the rules on what may stand together."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from gpost.errors import SourceError
from gpost.motion import codes
from gpost.read.block import Block

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
"""Lines within the block, or codes times ten."""
Flags = NDArray[np.bool_]

LONGEST_MM = 1e6
"""No coordinate is larger, in any unit; it keeps squares and sums finite."""
MOST_E = 1e9
"""The same for E, which may count cubic millimetres."""
FASTEST = 1e7
SLOWEST = 1e-6

_NONE: Ints = np.zeros(0, np.int64)
_NOT_FOLLOWED = "gpost can't follow that safely: slice the piece again without it"

_MOTION = codes.CodeTable((*codes.MOVES, codes.MOTION_OFF))
_REFUSED = {"G": codes.CodeTable(codes.REFUSED_G), "M": codes.CodeTable(codes.REFUSED_M)}
_REASONS = {"G": codes.REFUSED_G, "M": codes.REFUSED_M}
_GROUPS = {"G": codes.CodeTable(*codes.GROUPS_G), "M": codes.CodeTable(*codes.GROUPS_M)}
_MODAL = codes.CodeTable(codes.MODAL_G)
_KNOWN = codes.CodeTable(codes.KNOWN_G)
_USES_AXES = codes.CodeTable(codes.USES_AXES_G)
_PLAIN_M = codes.CodeTable(codes.PLAIN_M)
_PIN_MODE = codes.CodeTable(codes.PIN_MODES_M)
SPECIAL = codes.CodeTable({codes.SET_REGISTER, codes.HOME, codes.CLEAR_OFFSETS})
"""G92, G28 and G92.1, which set registers."""


def fail(block: Block, line: int, text: str) -> NoReturn:
    """Raise SourceError for a line of a block."""
    raise SourceError(text, line=block.chunk.first_line + int(line))


def numbers_on(block: Block, line: Ints, letter: str) -> Floats:
    """The value of a letter on each of some lines of a block, NaN where it does not stand there.

    Raises SourceError where it stands without a number.
    """
    at, value = block.said(letter)
    column = np.full(block.lines, np.nan)
    column[at] = value
    missing = np.isnan(value)
    if missing.any():
        wanted = np.intersect1d(at[missing], line)
        if len(wanted):
            fail(block, wanted[0], f"the {letter} on this line has no number; fix or remove the line")
    return column[line]


class Lines:
    """The codes and words of a block by line, and which lines move.

    A line moves if it has G0 to G3 and somewhere to go, or axis words and nothing that claims them: M and T
    words, one-time G codes and unknown ones do; modal G codes don't, `G91 X1` moves (NIST RS274/NGC report,
    sections 3.3.7, 3.4 and 3.8). Raises SourceError for lines that have no defined meaning.
    """

    def __init__(self, block: Block) -> None:
        self.block = block
        self.g_line, self.g = self._codes("G")
        self.m_line, self.m = self._codes("M")
        self.motion_line, self.motion_code, self.other_line, self.other = self._motion_codes()
        self.t_line, self.tool = self._tools()
        self.axis = {letter: self.block.said(letter) for letter in "XYZE"}
        self._find_moves()
        self._find_special()
        self._check_words()
        self._find_feeds()
        self.before: Ints = np.cumsum(self.is_move, dtype=np.int64) - self.is_move
        """Number of moves before each line."""

    def fail(self, line: int, text: str) -> NoReturn:
        """Raise SourceError for a line of the block."""
        fail(self.block, line, text)

    # -- codes ---------------------------------------------------------------------------------

    def _motion_codes(self) -> tuple[Ints, Ints, Ints, Ints]:
        """(line, code) of the codes that move or end moving, and (line, code) of all other G codes."""
        plain = _MOTION(self.g) > 0
        if plain.all():
            return self.g_line, self.g, _NONE, _NONE
        other = ~plain
        return self.g_line[plain], self.g[plain], self.g_line[other], self.g[other]

    def _codes(self, letter: str) -> tuple[Ints, Ints]:
        line, value = self.block.said(letter)
        if not len(line):
            return _NONE, _NONE
        if value.min() >= 0 and value.max() <= 3:
            code = value.astype(np.int64)
            if (code == value).all():  # the usual block: moves alone, and nothing to refuse
                code *= 10
                return self._without_conflicts(line, code, letter)
        tenths = value * 10
        rounded = np.rint(tenths)
        right = (np.abs(rounded - tenths) <= 1e-4) & (rounded >= 0) & (rounded <= codes.HIGHEST)
        if not right.all():
            at = int(np.argmin(right))
            known = f"{letter}{value[at]:.15g} on this line is no code"
            said = f"the {letter} on this line has no number" if np.isnan(value[at]) else known
            self.fail(line[at], f"{said}; fix or remove the line")
        code = rounded.astype(np.int64)
        refused = _REFUSED[letter](code) > 0
        if refused.any():
            at = int(np.argmax(refused))
            reason = _REASONS[letter][int(code[at])]
            self.fail(line[at], f"{codes.name_of(letter, code[at])} asks for {reason}; {_NOT_FOLLOWED}")
        if letter == "M":
            line, code = _without_pin_modes(line, code)
        return self._without_conflicts(line, code, letter)

    def _without_conflicts(self, line: Ints, code: Ints, letter: str) -> tuple[Ints, Ints]:
        """The same; two codes of one group on a line (NIST section 3.3.5) have no defined meaning."""
        if not (line[1:] == line[:-1]).any():
            return line, code
        group = _GROUPS[letter](code)
        key = np.sort((line * 16 + group)[group > 0])
        twice = np.flatnonzero(key[1:] == key[:-1])
        if len(twice):
            text = "two codes of one kind stand on this line (as G0 and G1 are); remove one"
            self.fail(key[twice[0]] // 16, text)
        return line, code

    def _tools(self) -> tuple[Ints, Ints]:
        """(line, number) of tool changes: T words that are no argument of an M code."""
        line, value = self.block.said("T")
        if not len(line):
            return line, line
        argument = np.isin(line, self.m_line[self.m != codes.TOOL_CHANGE_M])
        argument |= np.isnan(value) & np.isin(line, self.other_line)
        line, value = line[~argument], value[~argument]
        wrong = ~((value >= 0) & (value <= 999) & (value == np.floor(value)))
        if wrong.any():
            self.fail(line[wrong][0], "the tool T on this line is no number from 0 to 999; fix the line")
        return line, value.astype(np.int64)

    # -- which lines move ----------------------------------------------------------------------

    def _find_moves(self) -> None:
        lines = self.block.lines
        goes = np.zeros(lines, np.bool_)
        for line, _ in self.axis.values():
            goes[line] = True
        self.claimed = np.zeros(lines, np.bool_)
        """Lines whose words belong to a code that is no move."""
        claiming = self.other_line[_MODAL(self.other) == 0]
        if len(self.m_line) or len(self.t_line) or len(claiming):
            explicit = np.zeros(lines, np.bool_)
            explicit[self.motion_line[self.motion_code != codes.MOTION_OFF]] = True
            self._refuse_double_claims(explicit, goes)
            self._refuse_lost_words(explicit, goes)
            for line in (self.m_line, self.t_line, claiming):
                self.claimed[line] = True
            self.claimed &= ~explicit
            goes &= ~self.claimed
        self.is_move = goes
        if any(self.block.counts[ord(letter)] for letter in "IJKR"):
            self._take_centres()
        self.move_line = np.flatnonzero(self.is_move)

    def _take_centres(self) -> None:
        """An arc may name its centre alone: a full circle (printing usage), but then with its G2 or G3."""
        arcs = np.zeros(self.block.lines, np.bool_)
        arcs[self.motion_line[(self.motion_code == 20) | (self.motion_code == 30)]] = True
        said = np.zeros(self.block.lines, np.bool_)
        said[self.motion_line] = True
        for letter in "IJKR":
            stands = self.block.stands(letter)
            self.is_move |= stands & arcs
            lost = stands & ~(self.is_move | self.claimed | said)
            if lost.any():
                self.fail(
                    int(np.argmax(lost)),
                    f"{letter}, part of an arc, stands without G2, G3 or an axis word; fix the line",
                )

    def _refuse_double_claims(self, explicit: Flags, goes: Flags) -> None:
        """G0 to G3 beside a code that uses axis words itself (NIST section 3.4), or unknown ones."""
        if not len(self.other):
            return
        uses = self.other_line[_USES_AXES(self.other) > 0]
        both = uses[explicit[uses]]
        if len(both):
            text = "a move and a code that uses the axis words itself stand on one line; put each on its own"
            self.fail(both[0], text)
        unknown = np.flatnonzero((_KNOWN(self.other) == 0) & goes[self.other_line])
        if len(unknown):
            line, code = self.other_line[unknown[0]], self.other[unknown[0]] / 10
            text = f"gpost does not know G{code:g}, and it has axis words: it may move"
            self.fail(line, f"{text}; slice the piece again without it")
        origin = self.other_line[self.other == codes.RELIEVE]
        if len(origin):
            sets = (goes & ~explicit) | self.block.stands("L") | self.block.stands("P")
            if sets[origin].any():
                line = origin[sets[origin]][0]
                self.fail(line, f"this G10 sets an origin or a tool; {_NOT_FOLLOWED}")

    def _refuse_lost_words(self, explicit: Flags, goes: Flags) -> None:
        """Axis words beside an M code that has none (NIST section 3.6): not every machine would move."""
        plain = np.flatnonzero(_PLAIN_M(self.m) > 0)
        lost = plain[goes[self.m_line[plain]] & ~explicit[self.m_line[plain]]]
        if len(lost):
            code = codes.name_of("M", self.m[lost[0]])
            text = f"axis words stand beside {code} without G0 or G1; put {code} on a line of its own"
            self.fail(self.m_line[lost[0]], text)

    def _find_special(self) -> None:
        """The codes that set registers, with their lines."""
        pick = SPECIAL(self.other) > 0
        self.special_line, self.special_code = self.other_line[pick], self.other[pick]

    # -- numbers -------------------------------------------------------------------------------

    def _check_words(self) -> None:
        """Axis words that count have a number that can be, and stand once; so do the words of arcs."""
        values = self.block.words.value
        in_range = len(values) and values.max() <= LONGEST_MM and values.min() >= -LONGEST_MM  # NaN is not
        for letter, (line, value) in self.axis.items():
            if not len(line):
                continue
            if not in_range:
                self._refuse_numbers(letter, line, value)
            self._refuse_twice(letter, line)
        if self.block.counts[ord("N")]:
            self._refuse_late_numbers()
        for letter in "IJKR":
            if self.block.counts[ord(letter)]:
                line, value = self.block.said(letter)
                self._refuse_numbers(letter, line, value)
                self._refuse_twice(letter, line)

    def _refuse_late_numbers(self) -> None:
        """A line's number comes first (NIST section 3.3); codes with arguments of their own may have an N."""
        index = self.block.of("N")
        line, value = self.block.said("N")
        late = (index > 0) & (self.block.words.line[index - 1] == line)
        wrong = (late | np.isnan(value)) & self.is_move[line]
        if wrong.any():
            text = "stands behind other words; put it first" if late[wrong][0] else "has no digits; fix it"
            self.fail(line[wrong][0], f"the number of this line {text}")

    def _refuse_numbers(self, letter: str, line: Ints, value: Floats) -> None:
        sets = self.special_line[self.special_code == codes.SET_REGISTER]
        counts = self.is_move[line] | np.isin(line, sets)
        missing = np.isnan(value) & counts
        if missing.any():
            self.fail(line[missing][0], f"the {letter} on this line has no number; fix or remove the line")
        large = (np.abs(value) > (MOST_E if letter == "E" else LONGEST_MM)) & counts
        if large.any():
            number = float(value[large][0])
            said = f"{letter}{number:.15g}" if abs(number) < 1e15 else f"the {letter} on this line"
            self.fail(line[large][0], f"{said} is too large to be meant; slice the piece again")

    def _refuse_twice(self, letter: str, line: Ints) -> None:
        """A letter stands once on a line (NIST section 3.3.5)."""
        same = line[1:] == line[:-1]
        if same.any():
            twice = line[1:][same]
            counts = self.is_move[twice] | np.isin(twice, self.special_line)
            if counts.any():
                self.fail(twice[counts][0], f"two {letter} words stand on this line; remove one")

    def _find_feeds(self) -> None:
        """The F words that count: not those of a code that claims its line's words."""
        self.feed_index = self.block.of("F")
        self.feed_line, value = self.block.said("F")
        if not len(value):
            return
        if self.claimed.any():
            counts = ~self.claimed[self.feed_line]
            self.feed_index, self.feed_line = self.feed_index[counts], self.feed_line[counts]
            value = value[counts]
        wrong = ~((value >= SLOWEST) & (value <= FASTEST))
        if wrong.any():
            self.fail(self.feed_line[wrong][0], _feed_text(float(value[wrong][0])))
        twice = self.feed_line[1:][self.feed_line[1:] == self.feed_line[:-1]]
        if len(twice):
            self.fail(twice[0], "two F words stand on this line; remove one")


def _without_pin_modes(line: Ints, code: Ints) -> tuple[Ints, Ints]:
    """M codes without those that say how a pin is driven: the next M behind M42 on its line."""
    mode = (code[:-1] == codes.SET_PIN) & (line[1:] == line[:-1]) & (_PIN_MODE(code[1:]) > 0)
    if not mode.any():
        return line, code
    own = np.append(True, ~mode)
    return line[own], code[own]


def _feed_text(feed: float) -> str:
    """What is wrong with a feed, and what to do."""
    if np.isnan(feed):
        return "the F on this line has no number; fix or remove the line"
    size = "large" if feed > FASTEST else "small"
    said = f"F{feed:.15g} is too {size}" if feed > 0 else f"F{feed:g} is not above 0, as a feed must be"
    return f"{said}; fix the line, or slice the piece again"


def merged(parts: Iterable[tuple[Ints, NDArray]]) -> tuple[Ints, NDArray]:  # type: ignore[type-arg]
    """Several (line, value) lists as one in the order of lines; on one line a later list comes later."""
    listed = list(parts)
    line = np.concatenate([part[0] for part in listed])
    order = np.argsort(line, kind="stable")
    return line[order], np.concatenate([part[1] for part in listed])[order]
