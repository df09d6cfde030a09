"""Splits a straight move in parts, so that something can be inserted inside it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.motion.splitting import can_split, letters_of
from gpost.motion.state import Axis, MachineState
from gpost.read.words import read_block
from gpost.write.decimals import decimals_of
from gpost.write.edits import Edits
from gpost.write.script import E_DECIMALS, POSITION_DECIMALS, exact, number, untied


class Part(NamedTuple):
    """A part of a split move, as a line before the rest of it."""

    text: str
    state: MachineState
    """After the part, in the output."""


def split_move(
    edits: Edits, line: int, fractions: Sequence[float], state: MachineState, config: Config
) -> list[Part]:
    """The parts of the move on `line` that end at these fractions (rising); what is left stays on the line.

    `state` is that before the line in the output. In absolute modes the line already says the rest; in
    relative modes its words become the difference, so that all parts add up exactly. The list is empty
    for a line that can't be split: an arc, or a line that does more than move.
    """
    if not fractions:
        return []
    letters = letters_of(edits.block, line)
    code = int(edits.block.words.value[letters["G"]]) if "G" in letters else state.motion
    if not can_split(edits.block, line, code):
        return []
    feed = feed_of(edits, line, letters)
    columns = {
        letter: list(_numbers(edits, letters[letter], Axis[letter], fractions, state))
        for letter in "XYZE"
        if letter in letters and not edits.is_dropped(letters[letter])
    }
    parts = []
    for place in range(len(fractions)):
        words = [f"G{code}", *(letter + column[place] for letter, column in columns.items()), *feed]
        state = after_part(" ".join(words), edits, line, state, config)
        parts.append(Part(" ".join(words), state))
    return parts


def feed_of(edits: Edits, line: int, letters: dict[str, int]) -> list[str]:
    """The F word of the move, as it will stand there: the first part must say it already."""
    if "F" in letters:
        return ["F" + edits.text(letters["F"])]
    return [edits.after[line]] if line in edits.after else []


def _numbers(
    edits: Edits, index: int, axis: Axis, fractions: Sequence[float], state: MachineState
) -> Iterator[str]:
    """The word's number in each part; a relative word on the line is cut down to the rest."""
    is_e = axis is Axis.E
    value = edits.value(index)
    decimals = max(decimals_of(edits.text(index)), E_DECIMALS if is_e else POSITION_DECIMALS)
    if not (state.e_relative if is_e else state.relative):
        start = state.register[axis] / state.scale
        for fraction in fractions:
            yield exact(untied(start + (value - start) * fraction, decimals))
        return
    done = 0.0
    for fraction in fractions:
        until = untied(value * fraction, decimals)
        yield number(until - done, decimals)
        done = until
    edits.numbers[index] = number(value - done, decimals)


def after_part(text: str, edits: Edits, line: int, state: MachineState, config: Config) -> MachineState:
    """The state after a part, written as this line."""
    whole = edits.block.chunk
    chunk = replace(whole, data=text.encode() + b"\n", first_line=whole.first_line + line)
    return Follower(read_block(chunk), state, config.machine, config.clay.metering).end
