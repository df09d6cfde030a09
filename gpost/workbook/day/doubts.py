"""What the potter should know before the day begins: old clay, an order that can't be kept, doubts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from gpost.config.model import Config
from gpost.config.nearest import did_you_mean, nearest
from gpost.supply.names import clay_doubts
from gpost.supply.sure import counted_on_ml
from gpost.workbook.day.clock import Clock, Printed, Used, names
from gpost.workbook.day.pieces import SAME_ML, filling_ml
from gpost.workbook.day.shared import Shared, Unsure, ends
from gpost.workbook.day.wishes import Wishes


def doubts(day: Shared, clock: Clock, config: Config, wishes: Wishes) -> Iterator[str]:
    """Sentences for the sheet's warnings."""
    yield from clay_doubts(printed.piece.names for printed in clock.pieces)
    for printed in clock.pieces:
        yield from (f"{printed.piece.name}: {text}" for text in printed.piece.doubts)
    yield from _unknown_colours(clock.pieces, wishes.light_first)
    yield from _order_not_kept(clock, wishes.light_first)
    yield from map(_unsure, day.unsure)
    if day.orders_left:
        yield (
            "the cartridges may not be the fewest: with so many pieces that change their colour, not every "
            "order of them was tried"
        )
    keeps_min = config.cartridge.keeps_min
    if wishes.fresh and keeps_min is None:
        yield (
            "--fresh shares a cartridge only while its clay keeps, and the config does not say how long that "
            "is (cartridge: keeps_min): they are shared as without it"
        )
    for used in clock.cartridges if keeps_min is not None else ():
        if keeps_min is not None and used.done_s - used.loaded_s > keeps_min * 60:
            yield _stiff(used, _late(used, clock.pieces, keeps_min * 60), keeps_min)
    yield from _stale_lines(clock, config, wishes)
    yield from _not_yet_full(clock, config)


def _unsure(found: Unsure) -> str:
    return (
        f"the {found.cartridges} cartridges of {found.colour} may not be the fewest, {found.least} might do: "
        "there were too many ways to try"
    )


def _unknown_colours(pieces: Sequence[Printed], asked: Sequence[str]) -> Iterator[str]:
    """A sentence for each colour that `--colours` names and no piece has."""
    known = list(dict.fromkeys(clay for printed in pieces for clay in printed.printing.clays))
    for colour in asked:
        if known and colour not in known:
            meant = _meant(colour, known)
            yield f"no piece of the day is in {colour}, which --colours names; {meant}"


def _meant(colour: str, known: Sequence[str]) -> str:
    """The colour that may be meant, by its whole name or one word of it; else all there are."""
    by_word = {word: name for name in known for word in name.split()}
    by_part = [by_word[word] for word in nearest(colour, by_word)]
    if by_part:
        return did_you_mean(colour, known) or f"did you mean {by_part[0]}?"
    return did_you_mean(colour, known) or f"the day has {', '.join(known)}"


def _order_not_kept(clock: Clock, asked: Sequence[str]) -> Iterator[str]:
    """A sentence for each two colours that come the other way round than `--colours` asks, and why."""
    came = list(dict.fromkeys(used.colour for used in clock.cartridges))
    wanted = [colour for colour in dict.fromkeys(asked) if colour in came]
    for early, late in pairwise(wanted):
        if came.index(early) > came.index(late):
            why = "the order that --colours asks for would take one more change of colour"
            joining = [printed for printed in clock.pieces if len(set(ends(printed.piece))) > 1]
            if joining:
                each = (f"{p.piece.name} goes from {' to '.join(ends(p.piece))}" for p in joining)
                why = f"{', '.join(each)}, and {why}"
            yield f"{early} can't come before {late}: {why}"


def _late(used: Used, pieces: Sequence[Printed], limit_s: float) -> list[Printed]:
    """Pieces out of that cartridge which end when its clay is too old."""
    own = [p for p in pieces if p.first <= used.number < p.first + len(p.printing.uses)]
    if used.done_s - used.loaded_s <= limit_s:
        return []
    return [printed for printed in own if printed.end_s > used.loaded_s + limit_s]


def _stiff(used: Used, late: Sequence[Printed], limit_min: float) -> str:
    minutes = minutes_text((used.done_s - used.loaded_s) / 60, limit_min)
    return (
        f"the clay of cartridge {used.number} is in it for {minutes} min, longer than the {limit_min:g} min "
        f"that it keeps there (cartridge: keeps_min); stiff clay may come in {names(late)}"
    )


def _stale_lines(clock: Clock, config: Config, wishes: Wishes) -> Iterator[str]:
    """A sentence for each piece that lays clay which has stood in the hose for too long."""
    line_ml, limit_min = config.cartridge.line_ml, config.clay.working_min
    if line_ml <= 0 or not clock.pieces:
        return
    clay_clock = clock.clay_clock()
    for printed in clock.pieces:
        age_s, entered_s = clay_clock.oldest(printed.from_ml, printed.marks[-1][1], line_ml)
        over_s = age_s - limit_min * 60
        if over_s > 0:
            yield (
                f"{printed.piece.name} lays clay that has been in the hose for "
                f"{minutes_text(age_s / 60, limit_min)} min, longer than the {limit_min:g} min it stays "
                f"workable (clay: working_min); "
            ) + (
                _before(printed, clock, config, wishes, over_s)
                if entered_s < printed.start_s
                else _inside(printed, wishes, over_s)
            )


def _before(printed: Printed, clock: Clock, config: Config, wishes: Wishes, over_s: float) -> str:
    """What to do about clay that stands in the hose when a piece begins."""
    line_ml, on = config.cartridge.line_ml, clock.cartridge(printed.first)
    text = f"run {line_ml:.0f} ml out before {printed.piece.name} begins, "
    room_ml = counted_on_ml(config, None) - on.need_ml
    if room_ml >= line_ml:
        text += f"and load as much more into cartridge {on.number}"
    else:
        text += f"out of another cartridge, for cartridge {on.number} has none to spare"
    if printed is not clock.pieces[0] and wishes.between_s >= over_s:
        text += (
            f", or break for at most {_whole_min(wishes.between_s - over_s)} min before it (--between-min)"
        )
    return text


def _inside(printed: Printed, wishes: Wishes, over_s: float) -> str:
    """What to do about clay that waits in the hose at a piece's own pauses."""
    if len(printed.printing.stops) * wishes.pause_s >= over_s:
        return "wait less at its pauses (--pause-min), or begin it on fresh clay"
    return "begin it on fresh clay, and print it faster"


def _not_yet_full(clock: Clock, config: Config) -> Iterator[str]:
    """A sentence for each piece that begins before the hose is full of its colour."""
    need_ml = filling_ml(config.cartridge)
    for before, printed in pairwise(clock.pieces):
        if printed.pushed_ml < need_ml - SAME_ML:
            yield (
                f"the hose is not full of {printed.printing.hose[0]} yet when {before.piece.name} ends; run "
                f"{need_ml - printed.pushed_ml:.0f} ml out before {printed.piece.name} begins, and load as "
                f"much more"
            )


def minutes_text(minutes: float, limit_min: float) -> str:
    """Whole minutes, with decimals where they would look the same as the limit."""
    for digits in range(4):
        if f"{minutes:.{digits}f}" != f"{limit_min:.{digits}f}":
            return f"{minutes:.{digits}f}"
    return f"a moment more than {limit_min:g}"


def _whole_min(seconds: float) -> int:
    """Whole minutes that are not more."""
    return int(seconds // 60)
