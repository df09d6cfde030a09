"""The pieces of a folder: what each takes of which clay, how long it prints, and where it waits."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from gpost.clay.mixing import FULL
from gpost.common.filenames import SLICED, own_config
from gpost.common.plain import shown
from gpost.config.load import load_config
from gpost.config.model import Cartridge, Config
from gpost.errors import ConfigError, GpostError, PlanError
from gpost.pipeline import make_plan, plan_file
from gpost.plan.plan import Plan
from gpost.read.packed import pieces_in
from gpost.steps.recipe import Recipe, make_recipe, recipe_of
from gpost.supply.cartridges import cartridges
from gpost.supply.display import Messages
from gpost.supply.sure import loaded_ml

SAME_ML = 1e-3


@dataclass(frozen=True, slots=True)
class Stop:
    """A pause of a piece."""

    clock_s: float
    """Machine time from the piece's start; waiting not counted."""
    text: str
    new_cartridge: bool


@dataclass(frozen=True, slots=True)
class Printing:
    """One way of printing a piece."""

    uses: tuple[tuple[str, float], ...]
    """(colour, ml) out of each cartridge, in the order of loading."""
    time_s: float
    """Machine time; waiting not counted."""
    stops: tuple[Stop, ...] = ()
    only_from_ml: float | None = None
    """What its first cartridge must hold if its pauses came elsewhere from another amount, ml.

    None: any amount will do that reaches to the first change, and leaves the reserve.
    """
    needs_ml: tuple[float, ...] = ()
    """What each cartridge must have for it, if that is more than it takes: where clay is drawn back again."""

    def need_ml(self, number: int) -> float:
        """What a cartridge must have for it, without the reserve; 0 is its first cartridge, -1 its last."""
        return self.needs_ml[number] if self.needs_ml else self.uses[number][1]

    @property
    def clay_ml(self) -> float:
        """Clay out of all its cartridges."""
        return sum(ml for _, ml in self.uses)


@dataclass(frozen=True, slots=True)
class DayPiece:
    """A piece of the day."""

    name: str
    full: Printing
    """From a full cartridge, with the hose full of its first colour."""
    filling: Printing
    """From a cartridge that has filled the hose first."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A file that can't be printed that day, and why."""

    name: str
    reason: str


def read_pieces(
    folder: Path,
    configs: Sequence[Path],
    folders: Sequence[Path] = (),
    *,
    studio: Sequence[Path] = (),
    allow: Collection[str] = (),
    time_factor: float = 1.0,
    on_piece: Callable[[int, int], None] | None = None,
) -> tuple[Config, list[DayPiece], list[LeftOut]]:
    """The studio's config, the pieces in the order of their names, and what had to be left out.

    What `gpost run` would refuse, its first cartridge full, is left out, unless `allow` names it. A file
    `vase.yaml` beside `vase.gcode` is the piece's own config, read after `configs`. All times are multiplied
    by `time_factor`. Raises ConfigError when `configs` are wrong or the folder holds no sliced file.
    """
    files, loaded = _listed(folder), load_config(configs, studio=studio)
    common = make_recipe(loaded, folders)
    pieces: list[DayPiece] = []
    left_out: list[LeftOut] = []
    for done, path in enumerate(files, 1):
        try:
            recipe = _on_one_kind(path, recipe_of(path, common, loaded, folders), common)
            pieces.append(_piece(path, recipe, allow, time_factor))
        except GpostError as error:
            left_out.append(LeftOut(path.name, str(error).replace("\n", "; ")))
        if on_piece is not None:
            on_piece(done, len(files))
    return common.config, pieces, left_out


def _listed(folder: Path) -> list[Path]:
    if not folder.is_dir():
        raise ConfigError(f"{shown(folder)} is no folder; name the folder that holds the sliced files")
    files = [path for path in pieces_in(folder) if path.is_file()]
    if not files:
        raise ConfigError(f"there is no sliced file ({', '.join(SLICED)}) in {shown(folder)}")
    return files


def _on_one_kind(path: Path, recipe: Recipe, studio: Recipe) -> Recipe:
    """The piece's recipe. Raises ConfigError if it is for another cartridge than the studio's."""
    if _whole(recipe.config.cartridge) != _whole(studio.config.cartridge):
        own = shown(own_config(path).name)
        raise ConfigError(f"{own} changes the cartridge, but a day is packed on one kind alone")
    return recipe


def _whole(cartridge: Cartridge) -> Cartridge:
    """The cartridge when it is full; the day knows itself what an earlier piece has left in it."""
    return cartridge.model_copy(update={"first_ml": None})


def filling_ml(cartridge: Cartridge) -> float:
    """Clay that makes the hose full of a new colour, ml; where the hose mixes, more than it holds."""
    return cartridge.hose.pushed_ml(FULL)


def _piece(path: Path, recipe: Recipe, allow: Collection[str], time_factor: float) -> DayPiece:
    """Raises PlanError for what can't be printed, and SourceError."""
    config, cartridge = recipe.config, _whole(recipe.config.cartridge)
    if config.cartridge != cartridge:  # else left alone: what no config says is judged less strictly
        config = config.model_copy(update={"cartridge": cartridge})
    plan = plan_file(path, config, recipe.steps, allow=allow)
    full = _printing(plan, recipe, cartridge.volume_ml, time_factor)
    filled_ml = cartridge.volume_ml - filling_ml(cartridge)
    if len(full.uses) == 1 or filled_ml <= cartridge.reserve_ml:
        return DayPiece(path.name, full, full)
    filled = _printing(_planned(plan, recipe, filled_ml), recipe, filled_ml, time_factor)
    return DayPiece(path.name, full, filled)


def _printing(plan: Plan, recipe: Recipe, first_ml: float, time_factor: float) -> Printing:
    """Of a plan whose first cartridge holds `first_ml`. Raises PlanError if one holds less than is asked."""
    found = _printed(plan, time_factor)
    if len(found.uses) == 1:
        return found
    least_ml = loaded_ml(recipe.config, found.need_ml(0))
    try:
        same = _alike(found, _printed(_planned(plan, recipe, least_ml), time_factor))
    except PlanError:
        same = False
    return found if same else replace(found, only_from_ml=first_ml)


def _alike(one: Printing, other: Printing) -> bool:
    """Whether both take the same out of the same cartridges."""
    return len(one.uses) == len(other.uses) and all(
        a[0] == b[0] and abs(a[1] - b[1]) <= SAME_ML for a, b in zip(one.uses, other.uses, strict=True)
    )


def _planned(plan: Plan, recipe: Recipe, first_ml: float) -> Plan:
    """The plan of the same piece from another first cartridge. Raises PlanError when the steps can't."""
    cartridge = recipe.config.cartridge.model_copy(update={"first_ml": first_ml})
    config = recipe.config.model_copy(update={"cartridge": cartridge})
    return make_plan(plan.survey, recipe.steps, config, allow=plan.allowed)


def _printed(plan: Plan, time_factor: float) -> Printing:
    """Raises PlanError as `_printing` does."""
    uses = cartridges(plan)
    for use in uses:
        if use.over_ml > SAME_ML:
            raise PlanError(
                f"it asks {use.need_ml:.0f} ml of cartridge {use.number}, which gives {use.usable_ml:.0f} "
                "ml; add refill to its steps"
            )
    return Printing(
        uses=tuple((use.colour, use.clay_ml) for use in uses),
        time_s=plan.total_s * time_factor,
        stops=_stops(plan, time_factor),
        needs_ml=tuple(use.need_ml for use in uses),
    )


def _stops(plan: Plan, time_factor: float) -> tuple[Stop, ...]:
    messages = Messages(plan)
    stops = [
        Stop(plan.clock_at(pause.spot) * time_factor, messages.of(pause) or pause.reason, pause.new_cartridge)
        for pause in plan.pauses
    ]
    stops += [
        Stop(plan.clock_before(own.line) * time_factor, f"the file's own {own.command}", False)
        for own in plan.own_pauses
    ]
    return tuple(sorted(stops, key=lambda stop: stop.clock_s))
