"""The codes on a line, and the rules on which of them may stand together (NISTIR 6556, 3.3.5 and 3.4)."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from tests.reference.words import Line, LineError, Word

MOTION = ("G0", "G1", "G2", "G3")

NIST_GROUPS = (
    # 3.4, G codes
    (*MOTION, "G38.2", "G80", "G81", "G82", "G83", "G84", "G85", "G86", "G87", "G88", "G89"),
    ("G17", "G18", "G19"),
    ("G90", "G91"),
    ("G93", "G94"),
    ("G20", "G21"),
    ("G40", "G41", "G42"),
    ("G43", "G49"),
    ("G98", "G99"),
    ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"),
    ("G61", "G61.1", "G64"),
    # the non-modal codes are listed as a group too; G11 is printing usage
    ("G4", "G10", "G11", "G28", "G30", "G53", "G92", "G92.1", "G92.2", "G92.3"),
    # 3.4, M codes; M7 and M8 may be on together
    ("M0", "M1", "M2", "M30", "M60"),
    ("M3", "M4", "M5"),
    ("M48", "M49"),
)
PRINTING_GROUPS = (("M82", "M83"), ("M106", "M107"), ("M17", "M18", "M84"), ("M101", "M103"))
"""By the same reasoning, pairs of printing usage that contradict each other (no source)."""

MODAL = frozenset(
    {"G17", "G18", "G19", "G20", "G21", "G40", "G49", "G54", "G61", "G61.1", "G64", "G80"}
) | frozenset({"G90", "G91", "G94", "G98", "G99"})
"""Codes that stay in force and have no use for axis words: beside them motion goes on (3.3.7, 3.8)."""

USES_AXES = ("G10", "G28", "G30", "G92")
"""Codes whose axis words can't also be those of a motion on the same line (3.4)."""

REFUSED = (
    frozenset({"G38.2", "G41", "G42", "G43", "G53", "G93"})
    | frozenset({"G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"})
    | frozenset({"G81", "G82", "G83", "G84", "G85", "G86", "G87", "G88", "G89"})
)
"""Codes of the report that move the machine or its coordinates in ways this interpreter does not know."""

STATE_CODES = (
    frozenset({*MOTION, "G80", "G10", "G11", "G17", "G18", "G19", "G20", "G21", "G28", "G90", "G91"})
    | frozenset({"G92", "G92.1", "G92.2", "G92.3", "M0", "M1", "M2", "M17", "M18", "M84", "M82", "M83"})
    | frozenset({"M3", "M4", "M5", "M101", "M103", "M106", "M107", "M220", "M221"})
)
"""Codes that this interpreter knows, but for G4 and the text codes."""

NO_REPEAT = frozenset("XYZEFIJKR")
"""Letters that may stand on a line once (3.3.5). Printing machines do not check the others."""


@dataclass(frozen=True)
class Command:
    """The codes of a line by name (`G1`, `G92.1`, `M106`), and its other words by letter."""

    codes: tuple[str, ...]
    words: dict[str, Decimal | None]

    @property
    def leaves_words(self) -> bool:
        """Whether no code on the line claims its words: all are modal, and there is no T."""
        return all(code in MODAL for code in self.codes) and "T" not in self.words

    def number(self, letter: str) -> Decimal | None:
        """The number of a word; None if there is no such word. Raises LineError for a flag."""
        if letter not in self.words:
            return None
        value = self.words[letter]
        if value is None:
            raise LineError(f"{letter} has no number")
        return value


def read_command(line: Line) -> Command:
    """Sort the words of a line, and apply the rules on what may stand together."""
    codes: list[str] = []
    words: dict[str, Decimal | None] = {}
    for word in line.words:
        if word.letter in "GM":
            codes.append(code_name(word))
        elif word.letter in words and word.letter in NO_REPEAT:
            raise LineError(f"{word.letter} stands twice on the line")
        else:
            words[word.letter] = word.value
    check_groups(codes)
    return Command(tuple(codes), words)


def code_name(word: Word) -> str:
    """`G1` for G01 or G1.0. A number within 0.0001 of a whole number of tenths is that (3.3.2.1)."""
    if word.value is None:
        raise LineError(f"{word.letter} has no number")
    tenths = round(word.value * 10)
    if word.value < 0 or abs(word.value * 10 - tenths) > Decimal("0.0001"):
        raise LineError(f"{word.letter}{word.value} is no code")
    whole, tenth = divmod(tenths, 10)
    return f"{word.letter}{whole}.{tenth}" if tenth else f"{word.letter}{whole}"


def check_groups(codes: list[str]) -> None:
    """No two codes of one modal group, at most four M codes (3.3.5), no axes used twice (3.4)."""
    for group in NIST_GROUPS + PRINTING_GROUPS:
        found = [code for code in codes if code in group]
        if len(found) > 1:
            raise LineError(f"{' and '.join(found)} can't stand on one line")
    if sum(code.startswith("M") for code in codes) > 4:
        raise LineError("more than four M codes stand on the line")
    motion = [code for code in codes if code in MOTION]
    others = [code for code in codes if code in USES_AXES]
    if motion and others:
        raise LineError(f"{motion[0]} and {others[0]} both use the axis words")
    for code in codes:
        if code in REFUSED:
            raise LineError(f"{code} is beyond this interpreter")
