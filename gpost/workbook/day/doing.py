"""A day, or the rest of one that went wrong: packed, and written if that is asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from gpost.batch.folder import check_folders
from gpost.common.filenames import own_config
from gpost.common.plain import shown, storable
from gpost.config.model import Config
from gpost.config.nearest import did_you_mean
from gpost.errors import ConfigError
from gpost.page.index import INDEX, is_index
from gpost.workbook.day.earlier import NOTHING_WRITTEN, Earlier, Written, earlier, read_earlier
from gpost.workbook.day.pieces import DayPiece, LeftOut, begun_on
from gpost.workbook.day.rest import Left
from gpost.workbook.day.sheet import make_sheet
from gpost.workbook.day.wishes import Wishes
from gpost.workbook.day.words import time_of_day
from gpost.workbook.day.writing import Done, Order, write_day
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
    when_due: bool = False
    """Whether the rest begins when its first piece was due, since no time was asked for."""
    pages: bool = False
    """Whether each piece gets its page, and the day its index."""


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
    before = read_earlier(task.out) if task.out is not None else None
    pages = task.pages or (task.out is not None and is_index(task.out / INDEX))
    if task.first is None:
        left = _left(pieces, None, task, config)
        goes = NOTHING_WRITTEN if before is None else before.written
        order = Order(config, wishes, left, task.overwrite, task.inputs, NOTHING_WRITTEN, goes, pages=pages)
    else:
        known = before or earlier(make_sheet(pieces, config, wishes))
        first = _meant(task.first, known.written, pieces, left_out)
        stays = known.written.before(first)
        pieces = [_begun(piece, first, task) for piece in pieces if storable(piece.name) not in stays.files]
        left_out = [row for row in left_out if storable(row.name) not in stays.files]
        left = _left(pieces, next(p for p in pieces if storable(p.name) == first), task, config)
        goes = NOTHING_WRITTEN if before is None else known.written.without(stays)
        number = known.first_number(first, left, config.cartridge.volume_ml)
        wishes, notes = _when(wishes, known, first, task)
        order = Order(config, wishes, left, task.overwrite, task.inputs, stays, goes, number, notes, pages)
    if task.out is None:
        return Done(order.sheet(pieces), left_out, printed=order.stays)
    return write_day(order, task.out, pieces, left_out, on_piece=on_piece)


def _when(wishes: Wishes, known: Earlier, first: str, task: Task) -> tuple[Wishes, tuple[str, ...]]:
    """When the rest begins, and what is said of it."""
    due_s = known.due_s.get(first)
    if not task.when_due or due_s is None:
        return wishes, ()
    at = time_of_day(due_s).strip()
    said = f"The rest begins at {at}, when {first} was due; if it begins at another time, say it (--start)."
    return replace(wishes, start_s=due_s), (said,)


def _meant(asked: str, known: Written, pieces: Sequence[DayPiece], left_out: Sequence[LeftOut]) -> str:
    """The piece's name: by that of a file, by its number in the day, or by a name without its endings.

    A piece that is called by a number alone is meant by its full name.
    """
    for row in left_out:
        if asked in (row.name, _bare(row.name), known.files.get(row.name)):
            raise ConfigError(f"--from names {shown(row.name)}, which can't be printed: {row.reason}")
    there = {storable(piece.name) for piece in pieces}
    ways = [_called(name, known.files[name]) for name in known.names]
    for way in zip(*ways, strict=True):
        for name, called in zip(known.names, way, strict=True):
            if name in there and asked in called:
                return name
    stems = [_bare(name) for name in known.names]
    said = did_you_mean(_bare(asked), stems) or f"the day has {', '.join(map(shown, stems))}"
    raise ConfigError(f"the day has no piece {shown(asked)}, which --from names; {said}")


def _called(name: str, file: str) -> tuple[set[str], set[str], set[str]]:
    """What a piece may be called, in three ways of which each goes before the next."""
    number = file.partition("-")[0]
    return {name, file}, {number, number.lstrip("0")}, {_bare(name), _bare(file), Path(name).stem}


def _bare(name: str) -> str:
    """A file's name without its endings, as its own config has it."""
    return own_config(Path(name)).stem if Path(name).name else name


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
