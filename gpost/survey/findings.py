"""What the file lacks or does oddly, in sentences for the potter."""

from __future__ import annotations

from array import array
from bisect import bisect_left

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import distinct
from gpost.config.model import Config
from gpost.errors import SourceError
from gpost.motion import codes, machinecodes
from gpost.motion.follow import Follower
from gpost.read.block import Block
from gpost.read.oddline import SUBPROGRAM, Odd
from gpost.survey.claycheck import ClayCheck
from gpost.survey.ending import Ending
from gpost.survey.inside import first_bead
from gpost.survey.lookup import FileLookup
from gpost.survey.named import NamedCommands
from gpost.survey.noclay import NoClay
from gpost.survey.places import PlacesLost

BIG_PRIME_ML = 5.0
PRIMES_SHOWN, PRIMES_KEPT = 5, 1000

_ODD_WORDS = {
    Odd.EXPONENT: "numbers are written with an exponent (like 3e-05); they were read as numbers",
    Odd.SPACED: "numbers hold blanks; they were read as one number, as the G-code standard says",
    Odd.NUL: "lines hold NUL bytes (a damaged copy?); they were read as blanks",
    Odd.BLOCK_DELETE: "lines start with '/' (block delete); they count as lines that are carried out",
    Odd.NAMED_COMMAND: "lines hold a named command that gpost does not know; they stay as they are, and "
    "if one moves the machine, gpost can't know",
}

RELIEVES = "the file relieves pressure by G10 and G11; their clay cancels out and is not counted"
_FEW_HELD = (
    "one layer or turn has so many strokes that, to spare memory, gpost takes some together to find where "
    "layers begin: one may be counted from some strokes before or after its true start; clay and time of the "
    "whole job are right all the same"
)


class Findings:
    """Gathers what is odd while the survey runs: `add` block by block, then `warnings`."""

    def __init__(self, config: Config) -> None:
        self.config = config
        self._ending, self._clay, self._no_clay = Ending(), ClayCheck(config), NoClay()
        self._moves = self._laying = self._e_moves = 0
        self._no_feed_line: int | None = None
        self._feed_said = False
        self._primes: list[tuple[int, float]] = []
        self._odd: dict[str, array[int]] = {}
        """The lines of each kind."""
        self.named = NamedCommands(config)
        self.places = PlacesLost()
        self.wrong_mode = ""
        """That E seems to be read in the wrong mode, once all is told."""
        self._end_line: int | None = None
        self._words_seen = False
        self._after_end, self._after_end_line = 0, 0
        self.few_held = False
        """Whether strokes of a long turn or layer were taken together: see gpost/survey/thrift.py."""

    def add(self, block: Block, follower: Follower, clay: NDArray[np.float64]) -> None:
        """Look at one block and its moves. Raises SourceError for moves after the program's end."""
        moves, first_line = follower.moves, block.chunk.first_line
        self._moves += len(moves)
        self._laying += int(np.count_nonzero(moves.laying))
        self._e_moves += int(np.count_nonzero(moves.e_mm))
        self._note_odd_lines(block, follower)
        self.places.add(follower)
        self._look_for_end(follower)
        self._ending.add(block, follower)
        self._no_clay.add(follower)
        self._clay.add(follower, clay)
        self._feed_said |= not np.isnan(follower.end.feed_mm_min)
        if self._no_feed_line is None and len(moves) and np.isnan(moves.feed_mm_min[0]):
            unpaced = np.flatnonzero(np.isnan(moves.feed_mm_min) & ~moves.rapid)
            if len(unpaced):
                self._no_feed_line = first_line + int(moves.line[unpaced[0]])
        if len(self._primes) < PRIMES_KEPT:
            much = np.flatnonzero(clay > BIG_PRIME_ML)
            still = much[~moves.xy[much]][:PRIMES_KEPT]
            self._primes += [(first_line + int(moves.line[i]), float(clay[i])) for i in still]

    def _note_odd_lines(self, block: Block, follower: Follower) -> None:
        known = set(follower.named_air[0].tolist())
        known |= set(follower.auger.by_name.tolist()) if follower.auger is not None else set()
        for odd in block.odd:
            line = block.chunk.first_line + odd.line
            if odd.kind == Odd.NAMED_COMMAND and odd.line in known:
                continue
            if odd.kind == Odd.NAMED_COMMAND and self.named.add(line, block.line_bytes(odd.line)):
                continue
            lines = self._odd.setdefault(odd.kind, array("q"))
            lines.append(line)
            ends = odd.kind == Odd.LAST_PERCENT or (odd.kind == Odd.PERCENT and len(lines) == 2)
            if ends and self._end_line is None:
                self._end_line = line
            if odd.kind == Odd.PROGRAM_NUMBER:
                self._check_program_number(block, odd.line)
        self._words_seen |= len(block.words.line) > 0

    def _check_program_number(self, block: Block, line: int) -> None:
        """It stands before all else; further on it names a subprogram. Raises SourceError."""
        first = int(block.words.line[0]) if len(block.words.line) else line
        before = len(self._odd[Odd.PROGRAM_NUMBER]) > 1 or len(self.named.counts) > 0
        if self._words_seen or first < line or before:
            raise SourceError(SUBPROGRAM, line=block.chunk.first_line + line)

    def _look_for_end(self, follower: Follower) -> None:
        """What comes after M2 or a second `%` is not carried out (NIST RS274/NGC, sections 3.1 and 3.6.1).

        Machines that go on all the same may lift the nozzle there. Raises SourceError for any other move.
        """
        first_line, moves = follower.block.chunk.first_line, follower.moves
        ends = follower.m_line[follower.m == codes.END_M]
        if self._end_line is None and len(ends):
            self._end_line = first_line + int(ends[0])
        if self._end_line is None or not len(follower.move_line):
            return
        beyond = first_line + moves.line > self._end_line
        lifts = ~moves.xy & (moves.e_mm == 0) & (moves.end[2] >= moves.start[2])
        wrong = moves.line[beyond & ~lifts]
        if len(wrong):
            raise SourceError(
                f"the program ends on line {self._end_line + 1}, yet this line moves; cut off what comes "
                "after the end",
                line=first_line + int(wrong[0]),
            )
        if beyond.any() and not self._after_end:
            self._after_end_line = first_line + int(moves.line[beyond][0])
        self._after_end += int(np.count_nonzero(beyond))

    def warnings(
        self,
        layers: NDArray[np.void],
        pieces: int,
        commands: NDArray[np.void],
        homed: int | None,
        lines: int,
        lookup: FileLookup,
        since: int,
    ) -> tuple[str, ...]:
        """All sentences; `homed`: the line that homes Z in the middle, if one does. `lines`: of the file.

        `since`: what is true of earlier lines alone is left out. Raises SourceError for a file in which
        nothing is printed.
        """
        self.wrong_mode = wrong_mode = self._clay.wrong_mode(layers, commands, lookup)
        self._refuse_empty(layers)
        # all that is odd about the clay has that one cause then
        of_clay = [wrong_mode] if wrong_mode else self._clay.sentences(layers, lines, lookup, since)
        own = self.own_primes(layers, lines, lookup)
        primes = [text for text, line in own.items() if line >= since][:PRIMES_SHOWN]
        return (
            *self._odd_lines(since),
            *_pieces(pieces, homed),
            *self._ending.sentences(layers, lookup, self._clay.meter.bead_width_mm),
            *self._odd_moves(layers, since, by_e=not wrong_mode),
            *([] if wrong_mode else primes),
            *([_FEW_HELD] if self.few_held else []),
            *of_clay,
            *_tools(commands, self.places, since),
            *_codes(commands, self.config, since),
        )

    def _refuse_empty(self, layers: NDArray[np.void]) -> None:
        if not self._moves:
            raise SourceError("the file moves nothing: there is no G0 or G1 in it; name the sliced file")
        if not self._laying:
            auger = self.config.machine.auger
            if auger is not None and self._clay.meter.path_bead is not None:
                raise SourceError(_never_pushed(auger.on))
            raise SourceError(self.wrong_mode or self._no_clay.refusal(has_e=self._e_moves > 0))
        if not len(layers):
            raise SourceError(
                "no line of the file matches `layers: comment_pattern` before clay is laid; correct the "
                "pattern, or leave it out"
            )

    def _odd_lines(self, since: int) -> list[str]:
        odd = {kind: lines[bisect_left(lines, since) :] for kind, lines in self._odd.items()}
        told = [(odd[kind], text) for kind, text in _ODD_WORDS.items() if odd.get(kind)]
        return [f"{len(lines)} {text} (first: line {lines[0] + 1})" for lines, text in told]

    def _odd_moves(self, layers: NDArray[np.void], since: int, *, by_e: bool) -> list[str]:
        """`by_e`: whether what E says of clay is to be told."""
        falls = self._no_clay.sentence(float(layers["path_mm"].sum())) if by_e else ""
        found = [falls] if falls else []
        axes = sorted(self._no_clay.other_axes)
        if axes:
            found.append(
                f"moves have words for other axes ({', '.join(axes)}); gpost leaves them "
                "as they are and doesn't follow them"
            )
        if self._no_feed_line is not None and not (self._feed_said and since > self._no_feed_line):
            place = f"(line {self._no_feed_line + 1})"
            found.append(
                f"the first moves have no feed F {place}; times before the first F are not counted"
                if self._feed_said
                else f"no move has a feed F {place}, so gpost can't know the times; put one, such as F1500, "
                "on the first move"
            )
        if self._after_end:
            many = "a move lifts" if self._after_end == 1 else f"{self._after_end} moves lift"
            found.append(
                f"{many} the nozzle after the program's end (line {self._after_end_line + 1}); a machine "
                "that stops at the end doesn't do that"
            )
        return found

    @property
    def metering(self) -> str:
        """That among the warnings which says that clay by E and by the path disagree; empty: none does."""
        return self._clay.disagrees

    def own_primes(self, layers: NDArray[np.void], lines: int, lookup: FileLookup) -> dict[str, int]:
        """What is said of each place where the file itself runs out much clay, and its line.

        What comes before the first bead of layer 1 fills the nozzle, be it behind a line or a skirt; the step
        `purge` silences only what comes before all of these.
        """
        begin = first_bead(layers, lines, lookup) if self._primes else 0
        laid_from = self.places.laid_from
        lump = "; over the piece that leaves a lump: take it out, or let the nozzle move aside before it"
        fills = "; if that fills the nozzle, all is well"
        by_purge = "the step `purge` with `silence_own_prime: true` would do it beside the piece instead"
        instead = f"{fills}, and {by_purge}"
        said = {
            line: lump if line >= begin else instead if laid_from is None or line < laid_from else fills
            for line, _ in self._primes
        }
        return {
            f"the file itself runs out {ml:.0f} ml of clay in one place (line {line + 1}){said[line]}": line
            for line, ml in self._primes
        }


def _pieces(count: int, homed: int | None) -> list[str]:
    """That there are several; a count that a homing has made is none."""
    if count == 1 or homed is not None:
        return []
    return [
        f"the file prints {count} pieces one after the other; steps that go by height or layer need one "
        "piece to a file"
    ]


def _tools(commands: NDArray[np.void], places: PlacesLost, since: int) -> list[str]:
    """That tools are changed, and where between beads; the first counts as T0 where no T says else."""
    tools = commands[commands["letter"] == b"T"]
    code, line = tools["code_x10"], tools["line"]
    if not len(code):
        return []
    begin = places.laid_until if places.laid_from is None else places.laid_from
    changes = np.diff(code, prepend=code[0] if line[0] < begin else 0) != 0
    midway = np.flatnonzero(changes & (line >= max(begin, since)) & (line < places.laid_until))
    if len(midway):
        first, more = int(midway[0]), f", first of {len(midway)}" if len(midway) > 1 else ""
        return [
            f"the file changes tools, by {codes.name_of('T', int(code[first]))} in the middle of the print "
            f"(line {int(line[first]) + 1}{more}): the machine may move there by itself, and gpost can't "
            "know where; it counts the clay of all tools together. Take the change out if one "
            "nozzle prints it all"
        ]
    if code.min() != code.max():
        return ["the file changes tools; gpost counts the clay of all of them together"]
    return []


def _never_pushed(on: str) -> str:
    return (
        f"the file lays no clay: no G1 moves along while the auger is on, by {on} (`machine: auger`); say "
        "there what this file starts it by, or leave the key out if clay comes with every G1"
    )


def _codes(commands: NDArray[np.void], config: Config, since: int) -> list[str]:
    machine, by_path = config.machine, config.clay.metering.unit == "path"
    found = []
    g, m = (_said(commands, letter) for letter in (b"G", b"M"))
    if not m.isdisjoint(codes.MIXING_M):
        found.append("the file mixes two clays by M codes; gpost counts both together")
    if machine.auger is None and not by_path and not m.isdisjoint({codes.CLAY_ON, codes.CLAY_ON_REVERSE}):
        found.append(
            "the file switches clay on and off by M101 and M103; moves between them count as laying clay"
        )
    if not g.isdisjoint({codes.RELIEVE, codes.UNRELIEVE}):
        found.append(RELIEVES)
    later = commands[int(np.count_nonzero(commands["line"] < since)) :]  # in the order of the file
    g, m = (_said(later, letter) for letter in (b"G", b"M"))
    for letter, unknown in (
        ("G", g - codes.KNOWN_G - set(machinecodes.SETTINGS_G)),
        ("M", m - machinecodes.KNOWN_M),
    ):
        for name in (codes.name_of(letter, code) for code in sorted(unknown)):
            if name not in machine.file_may_hold:
                found.append(
                    f"gpost does not know {name}; it stays as it is, and if it moves, gpost can't know"
                )
    return found


def _said(commands: NDArray[np.void], letter: bytes) -> set[int]:
    """Codes times ten that are said by a letter; there may be millions of commands."""
    return set(distinct(commands["code_x10"][commands["letter"] == letter]).tolist())
