"""A day, or the rest of one that went wrong: packed, and written if that is asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from gpost.batch.folder import check_folders
from gpost.common.plain import shown, storable
from gpost.config.model import Config
from gpost.config.nearest import did_you_mean
from gpost.errors import ConfigError
from gpost.workbook.day.pieces import DayPiece, LeftOut, begun_on
from gpost.workbook.day.rest import Left
from gpost.workbook.day.sheet import make_sheet
from gpost.workbook.day.wishes import Wishes
from gpost.workbook.day.writing import (
    NOTHING_WRITTEN,
    Done,
    Order,
    Written,
    named,
    read_written,
    write_day,
)
from gpost.write.inputs import Inputs


class Task(NamedTuple):
    """What is asked for."""

    folder: Path
    """Where the sliced files are."""
    out: Path | None
    """Where the day is written; None: nothing is."""
    first: str | None
    """The piece from which on the day is planned anew; None: it is a whole day."""
    left_ml: float | None
    """Clay in the cartridge that is on, its reserve included, of the clay with which that piece begins."""
    left: tuple[str, float] | None
    """The same with its clay."""
    overwrite: bool
    inputs: Inputs
    """What is read: nothing of it is written over."""


def do_day(
    pieces: Sequence[DayPiece],
    left_out: Sequence[LeftOut],
    config: Config,
    wishes: Wishes,
    task: Task,
    *,
    on_piece: Callable[[int, int], None] | None = None,
) -> Done:
    """Pack the day, or the rest of it, and write it if that is asked for.

    Raises ConfigError for a piece or an amount that can't be meant, OutputError for a folder that can't be
    written into, PlanError as `make_sheet`.
    """
    if task.out is not None:
        check_folders(task.folder, task.out)
    earlier = None if task.out is None else read_written(task.out)
    before = NOTHING_WRITTEN
    begins = None
    if task.first is not None:
        known = earlier or named(make_sheet(pieces, config, wishes), NOTHING_WRITTEN).stored
        first = _meant(task.first, known, pieces, left_out)
        before = known.before(first)
        pieces = [_begun(piece, first, task) for piece in pieces if storable(piece.name) not in before.files]
        left_out = [row for row in left_out if storable(row.name) not in before.files]
        begins = next(piece for piece in pieces if storable(piece.name) == first)
    left = _left(pieces, begins, task, config)
    if task.out is None:
        return Done(make_sheet(pieces, config, wishes, left), left_out, printed=before.files)
    goes = NOTHING_WRITTEN if earlier is None else earlier.without(before)
    order = Order(config, wishes, left, task.out, task.overwrite, task.inputs, before, goes)
    return write_day(order, pieces, left_out, on_piece=on_piece)


def _meant(asked: str, known: Written, pieces: Sequence[DayPiece], left_out: Sequence[LeftOut]) -> str:
    """The piece's name, by that of its sliced file, with or without the ending, or its number."""
    for row in left_out:
        if asked in (row.name, Path(row.name).stem, known.files.get(row.name)):
            raise ConfigError(f"--from names {shown(row.name)}, which can't be printed: {row.reason}")
    there = {storable(piece.name) for piece in pieces}
    for name in known.names:
        file = known.files[name]
        number = file.partition("-")[0]
        called = {name, Path(name).stem, file, Path(file).stem, number, number.lstrip("0")}
        if name in there and asked in called:
            return name
    stems = [Path(name).stem for name in known.names]
    said = did_you_mean(Path(asked).stem, stems) or f"the day has {', '.join(map(shown, stems))}"
    raise ConfigError(f"the day has no piece {shown(asked)}, which --from names; {said}")


def _begun(piece: DayPiece, first: str, task: Task) -> DayPiece:
    """The piece from which the day goes on, with a refill where the cartridge that is on ends."""
    if storable(piece.name) != first:
        return piece
    if task.left is not None and task.left[0] != piece.full.hose[0]:
        return piece
    held_ml = task.left_ml if task.left is None else task.left[1]
    return piece if held_ml is None else begun_on(piece, held_ml)


def _left(pieces: Sequence[DayPiece], begins: DayPiece | None, task: Task, config: Config) -> Left | None:
    """The cartridge that is on.

    Raises ConfigError for a clay that no piece has, and for more in it than it holds, or less than its
    reserve.
    """
    if task.left is not None:
        left = Left(*task.left)
    elif task.left_ml is not None and begins is not None:
        left = Left(begins.full.hose[0], task.left_ml)
    else:
        return None
    known = list(dict.fromkeys(clay for piece in pieces for clay in piece.full.clays))
    if left.colour not in known:
        said = did_you_mean(left.colour, known) or f"they are in {', '.join(map(shown, known))}"
        raise ConfigError(f"no piece that is left is in {shown(left.colour)}, which --left names; {said}")
    wrong = config.cartridge.misfit(left.held_ml)
    if wrong:
        raise ConfigError(f"{left.held_ml:g} ml, which the cartridge that is on is said to hold, {wrong}")
    return left
