"""What the file lacks or does oddly, in sentences for the potter."""

from __future__ import annotations

from collections import Counter

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Config
from gpost.errors import SourceError
from gpost.motion import codes
from gpost.motion.moves import Moves
from gpost.survey.clay import ClayMeter
from gpost.survey.layers import LayerFinder

MARK = b"; gpost wrote this file"
"""First words of every file that gpost writes."""

DISAGREE = 0.25
"""Part by which clay by E and clay by path may differ before a warning."""

BIG_PRIME_ML = 5.0

_ODD_WORDS = {
    "exponent": "numbers are written with an exponent (like 3e-05); they were read as numbers",
    "nul": "lines hold NUL bytes (a damaged copy?); they were read as blanks",
    "block delete": "lines start with '/' (block delete); they count as lines that are carried out",
    "named command": "lines hold a named command that gpost does not know; they stay as they are, and "
    "if one moves the machine, gpost can't know",
}


class Findings:
    """Gathers what is odd while the survey runs."""

    def __init__(self, config: Config) -> None:
        self.config = config
        self.meter = ClayMeter(config)
        self.moves = 0
        self.laying = 0
        self.e_words = 0
        self.no_feed_line: int | None = None
        self.primes: list[tuple[int, float]] = []

    def add(self, moves: Moves, clay: NDArray[np.float64], first_line: int) -> None:
        """Look at one block's moves."""
        self.moves += len(moves)
        self.laying += int(np.count_nonzero(moves.laying))
        self.e_words += int(np.count_nonzero(moves.e_mm))
        if self.no_feed_line is None and len(moves) and np.isnan(moves.feed_mm_min[0]):
            laying = np.flatnonzero(np.isnan(moves.feed_mm_min) & ~moves.rapid)
            if len(laying):
                self.no_feed_line = first_line + int(moves.line[laying[0]])
        still = np.flatnonzero((clay > BIG_PRIME_ML) & ~moves.xy)
        self.primes += [(first_line + int(moves.line[i]), float(clay[i])) for i in still[:20]]

    def warnings(
        self,
        layers: NDArray[np.void],
        finder: LayerFinder,
        odd: Counter[str],
        odd_line: dict[str, int],
        commands: NDArray[np.void],
    ) -> list[str]:
        """All sentences. Raises SourceError for a file in which nothing is printed."""
        self._refuse_empty()
        found = [f"{odd[k]} {text} (first: line {odd_line[k] + 1})" for k, text in _ODD_WORDS.items() if odd[k]]
        if finder.pieces > 1:
            found.append(
                f"the file prints {finder.pieces} pieces one after the other; steps that go by height or layer "
                "need one piece to a file"
            )
        if finder.lost_turns:
            found.append("part of the wall rises without going round; its layers are counted as one")
        if self.no_feed_line is not None:
            found.append(
                f"the first moves have no feed F (line {self.no_feed_line + 1}); times before the first F are "
                "not counted"
            )
        for line, ml in self.primes[:5]:
            found.append(f"the file itself runs out {ml:.0f} ml of clay in one place (line {line + 1}); it is counted")
        return found + self._clay_check(layers) + _codes(commands)

    def _refuse_empty(self) -> None:
        if not self.moves:
            raise SourceError("the file moves nothing: there are no G0 or G1 lines in it. Is it G-code?")
        if self.laying:
            return
        if not self.e_words:
            raise SourceError(
                "the file lays no clay: no move has an E word. If the machine lays clay with every G1, say "
                "`metering: {unit: path}` under `clay:` in the config"
            )
        raise SourceError("the file lays no clay: E never rises while the nozzle travels")

    def _clay_check(self, layers: NDArray[np.void]) -> list[str]:
        """Clay by E against path times bead section: the commonest mistake is a wrong unit of E."""
        if self.meter.ml_per_mm is None or len(layers) < 1:
            return []
        rise = np.diff(layers["height_mm"], prepend=0.0)
        usual = float(np.median(rise[rise > 1e-3])) if (rise > 1e-3).any() else self.config.machine.nozzle_mm / 2
        by_path = float(layers["path_mm"].sum()) * self.meter.section_ml_per_mm(usual)
        by_e = float(layers["laid_ml"].sum())
        if by_path <= 0 or abs(by_e / by_path - 1) <= DISAGREE:
            return []
        return [
            f"by E the walls take {by_e:.0f} ml, but their path times a bead {self.meter.bead_width_mm:g} x "
            f"{usual:.3g} mm gives {by_path:.0f} ml: check `clay: metering` (what one unit of E is) and "
            "`bead_width_mm`"
        ]


def _codes(commands: NDArray[np.void]) -> list[str]:
    found = []
    m = commands["code_x10"][commands["letter"] == b"M"]
    g = commands["code_x10"][commands["letter"] == b"G"]
    if np.isin(m, list(codes.MIXING_M)).any():
        found.append("the file mixes two clays by M codes; gpost counts both together")
    if np.isin(m, [codes.CLAY_ON, codes.CLAY_ON_REVERSE]).any():
        found.append("the file switches clay on and off by M101 and M103; moves between them count as laying clay")
    if np.isin(g, [codes.RELIEVE, codes.UNRELIEVE]).any():
        found.append("the file relieves pressure by G10 and G11; their clay cancels out and is not counted")
    unknown = np.unique(g[~np.isin(g, list(codes.KNOWN_G))])
    for code in unknown.tolist():
        found.append(f"gpost does not know G{code / 10:g}; it stays as it is")
    return found
