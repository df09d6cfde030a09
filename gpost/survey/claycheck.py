"""Whether clay can be as E says it: beads that get none, lumps, and clay by E against clay by path."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.common.digits import few
from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.survey.clay import ClayMeter
from gpost.survey.emode import find_doubt
from gpost.survey.emodewords import Told, change_before, sayings
from gpost.survey.growing import Growing
from gpost.survey.lookup import FileLookup
from gpost.survey.lumps import Lumps
from gpost.survey.path import TURN

DISAGREE = 0.25
"""Part by which clay by E and clay by path may differ before a warning."""
FED = 0.5
"""A layer must net so much of what its beads push."""
LEAST_ML = 0.5
"""Less than this is not missed in the layers that don't."""
LEFT = 0.25
"""So much of its usual section a bead must have left that gives back what was drawn back before it."""


class ClayCheck:
    """Goes along with the survey, block by block; `sentences` when the layers are known."""

    def __init__(self, config: Config) -> None:
        self.meter = ClayMeter(config)
        self._half_nozzle_mm = config.machine.nozzle_mm / 2
        self._lumps = Lumps()
        self.disagrees = ""
        """What was said last of clay that is another by E than by the path; empty: they agree."""
        self._after_ml = 0.0
        """Net clay after the last bead."""
        self._axes_say_e = config.machine.axis_mode_sets_e
        self._net_ml, self._along_mm = np.zeros((2, 2))
        """Net clay where E is absolute, and where it is relative; the path of what goes along but by G0."""
        self._factor_ml, self._factor_line = 0.0, 0
        """Clay that the file's own flow factor adds to its beads, and where it does so first."""
        self._given = Growing(np.dtype([("line", "i8"), ("ml", "f8")]))
        """Beads that give back what was drawn back before them, and how much."""

    def add(self, follower: Follower, clay_ml: NDArray[np.float64]) -> None:
        """Look at one block, and the clay of its moves."""
        if self.meter.ml_per_mm is None:
            return
        moves = follower.moves
        along_mm = moves.path_mm * (moves.xy & ~moves.rapid)
        relative = follower.e_relative
        if isinstance(relative, np.ndarray):  # else the same for all
            mode = relative[moves.line].astype(np.intp)
            self._net_ml += np.bincount(mode, clay_ml, 2)
            self._along_mm += np.bincount(mode, along_mm, 2)
        else:
            self._net_ml[int(relative)] += clay_ml.sum()
            self._along_mm[int(relative)] += along_mm.sum()
        laying = np.flatnonzero(moves.laying)
        self._lumps.add(follower, laying, self._own_ml(follower, clay_ml, laying))
        self._after_ml = 0.0 if len(laying) else self._after_ml
        self._after_ml += float(clay_ml[laying[-1] + 1 if len(laying) else 0 :].sum())
        if moves.e_mm is not follower.e_raw and len(laying):  # they are one where no factor is in force
            added_mm = (moves.e_mm - follower.e_raw)[laying]
            if not self._factor_ml and added_mm.any():
                first = int(laying[added_mm != 0][0])
                self._factor_line = follower.block.chunk.first_line + int(moves.line[first])
            self._factor_ml += float(added_mm.sum()) * self.meter.ml_per_mm

    def _own_ml(
        self, follower: Follower, clay_ml: NDArray[np.float64], laying: NDArray[np.int64]
    ) -> NDArray[np.float64]:
        """What each of the beads pushes beyond what it gives back, shape (k,).

        What was drawn back before a bead may come again with it. So it is if a bead is left of it; else E
        has begun anew.
        """
        laid_ml = clay_ml[laying]
        if not len(laying) or (self._after_ml >= 0 and not (clay_ml < 0).any()):
            return laid_ml
        net_ml = np.add.reduceat(clay_ml[: laying[-1] + 1], np.append(0, laying[:-1] + 1))
        net_ml[0] += self._after_ml
        least_ml = LEFT * self.meter.section_ml_per_mm(self._half_nozzle_mm) * follower.moves.path_mm[laying]
        gives = (net_ml < laid_ml) & (net_ml >= least_ml)
        given = self._given.add(int(np.count_nonzero(gives)))
        given["line"] = follower.moves.line[laying[gives]] + follower.block.chunk.first_line
        given["ml"] = (laid_ml - net_ml)[gives]
        return np.where(gives, net_ml, laid_ml)

    def _laid_ml(self, layers: NDArray[np.void]) -> NDArray[np.float64]:
        """What the beads of each layer push, but for what they give back."""
        given, laid_ml = self._given.rows, layers["laid_ml"].copy()
        index = np.searchsorted(layers["first_line"], given["line"], side="right") - 1
        np.subtract.at(laid_ml, index[index >= 0], given["ml"][index >= 0])
        return laid_ml

    def wrong_mode(self, layers: NDArray[np.void], commands: NDArray[np.void], lookup: FileLookup) -> str:
        """That E is read in the wrong mode, as a sentence; empty where nothing tells so."""
        ml_per_mm = self.meter.ml_per_mm
        if not ml_per_mm or self.meter.path_bead is not None:
            return ""
        rise_mm = (usual_rise_mm(layers) if len(layers) else 0.0) or self._half_nozzle_mm
        section = self.meter.section_ml_per_mm(rise_mm)
        doubt = find_doubt(lookup, self._net_ml, self._along_mm, ml_per_mm, section)
        if doubt is None:
            return ""
        said = sayings(commands, axes_too=self._axes_say_e)
        return Told(doubt, change_before(doubt.line, said, beads=doubt.beads_before)).sentence

    def sentences(
        self, layers: NDArray[np.void], lines: int, lookup: FileLookup, since: int
    ) -> Iterator[str]:
        """What can't be as E says it, or as the path is taken for; beads from line `since` on, and all."""
        if self.meter.path_bead is not None:
            yield from self._by_path(layers, float(layers["laid_ml"].sum()))
            return
        lumps = self._lumps.found_from(int(layers["first_line"][0]))
        yield from self._lumps.sentences([lump for lump in lumps if lump.line >= since])
        laid_ml = self._laid_ml(layers)
        yield from self._unfed(layers, laid_ml, lines, lookup, since)
        lumps_ml = sum(lump.clay_ml - lump.share_ml for lump in lumps)
        yield from self._by_path(layers, float(laid_ml.sum()) - lumps_ml)

    def _unfed(
        self,
        layers: NDArray[np.void],
        laid_ml: NDArray[np.float64],
        lines: int,
        lookup: FileLookup,
        since: int,
    ) -> Iterator[str]:
        """Layers whose beads only give back what was drawn back before them: E doesn't begin anew there."""
        ends = np.append(layers["first_line"], lines)
        net_ml = layers["clay_ml"].copy()
        net_ml[-1] -= self._after_ml
        which = np.flatnonzero((laid_ml > 0) & (net_ml < FED * laid_ml) & (ends[1:] > since))
        begun = len(which) and ends[which[0]] < since
        if begun and lookup.most_drawn_back(*ends[which[0] : which[0] + 2].tolist())[0] < since:
            which = which[1:]
        missing_ml = float((laid_ml - net_ml)[which].sum())
        if missing_ml < LEAST_ML:
            return
        first = int(which[0])
        line, drawn_ml = lookup.most_drawn_back(*ends[first : first + 2].tolist())
        more = f", and so in {len(which)} layers" if len(which) > 1 else ""
        yield (
            f"layer {first + 1} gets {max(net_ml[first], 0.0):.2f} ml for beads of {laid_ml[first]:.2f} ml"
            f"{more}, {few(missing_ml)} ml too little in all: E falls by {drawn_ml:.2f} ml on line "
            f"{line + 1}, and nothing gives that back before clay is laid. If E begins anew there, a "
            "`G92 E0` is missing before that line; write the file again"
        )

    def _by_path(self, layers: NDArray[np.void], metered_ml: float) -> Iterator[str]:
        """Clay as metered against path times bead section: the commonest mistake is a wrong unit of E."""
        if layers["odd"].any():
            return
        usual = usual_rise_mm(layers) or self._half_nozzle_mm
        by_path_ml = float(layers["path_mm"].sum()) * self.meter.section_ml_per_mm(usual)
        if by_path_ml <= 0 or abs(metered_ml / by_path_ml - 1) <= DISAGREE:
            return
        self.disagrees = self._disagreement(usual, metered_ml, by_path_ml)
        yield self.disagrees

    def _disagreement(self, usual: float, metered_ml: float, by_path_ml: float) -> str:
        """What to say of clay that is another by E than by the path."""
        bead = f"{self.meter.bead_width_mm:g} x {few(usual)} mm"
        if self.meter.path_bead is not None:
            return (
                f"clay is metered by the path, as a bead {self.meter.path_bead.words}: {few(metered_ml)} ml. "
                f"But the layers are {few(usual)} mm apart, and a bead {bead} takes {few(by_path_ml)} ml: "
                f"say how high the bead is (`clay: metering: {{unit: path, bead_height_mm: {few(usual)}}}`), "
                "or weigh a piece, since the machine lays what its auger gives"
            )
        found = (
            f"by E the walls take {few(metered_ml)} ml, but their path times a bead {bead} "
            f"gives {few(by_path_ml)} ml: "
        )
        without_ml = metered_ml - self._factor_ml
        if self._factor_ml and abs(without_ml / by_path_ml - 1) <= DISAGREE:
            return (
                f"{found}the file's own flow factor (M221, in force on line {self._factor_line + 1} first) "
                f"makes it so, and without it they take {few(without_ml)} ml. Take it out where the file is "
                "made, or say in `bead_width_mm` how wide the beads are with it"
            )
        return f"{found}check `clay: metering` (what one unit of E is) and `bead_width_mm`"


def usual_rise_mm(layers: NDArray[np.void]) -> float:
    """The usual height of a layer; 0 where it can't be told."""
    rise = np.diff(layers["height_mm"])
    if layers["kind"][0] != TURN:
        rise = np.append(layers["height_mm"][0], rise)
    rise = np.sort(rise[rise > 1e-3])
    count = len(rise)
    # the median; numpy's own would first load all that it knows of masked arrays
    return float(rise[(count - 1) // 2] + rise[count // 2]) / 2 if count else 0.0
