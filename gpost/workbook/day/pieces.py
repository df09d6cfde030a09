"""The pieces of a folder: what each takes of which clay, how long it prints, and where it waits."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

from gpost.clay.mixing import FULL
from gpost.common.duration import lasting
from gpost.common.filenames import SLICED, own_config
from gpost.common.memory import free_failed
from gpost.common.plain import shown
from gpost.config.load import LoadedConfig, load_config
from gpost.config.model import Cartridge, Config
from gpost.errors import ConfigError, GpostError, PlanError
from gpost.pipeline import make_plan, plan_file, tried
from gpost.plan.plan import Plan
from gpost.read.packed import pieces_in
from gpost.spot import Spot
from gpost.steps.recipe import Recipe, make_recipe, recipe_of
from gpost.supply.bands import Mix, name_of
from gpost.supply.cartridges import cartridges, contents, misfit_of_colours
from gpost.supply.claylist import ClayNeed, clay_needs
from gpost.supply.display import Messages
from gpost.supply.loading import band_doubts, slugs_of
from gpost.supply.names import Names, names_of
from gpost.supply.slugs import Slug
from gpost.supply.sure import to_load_ml
from gpost.survey.model import OwnPause
from gpost.words import recorded, say

SAME_ML = 1e-3
NO_NAMES = Names((), ())
MIXED = "mixed clays"
"""In the hose behind a piece whose last clay has not filled it: no piece begins with it."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A pause of a piece."""

    clock_s: float
    """Machine time from the piece's start; waiting not counted."""
    text: str
    new_cartridge: bool


class Slugs(NamedTuple):
    """The cartridges of a piece whose colours lie in slugs; nothing else shares them."""

    first: Mix
    """What fills the hose when it begins."""
    at_end: str
    """What fills it when it ends; MIXED if that is not one clay."""
    of: tuple[tuple[Slug, ...], ...]
    """Of each cartridge in the order in which they leave, without what stays behind."""
    loaded_from: str

    @property
    def clays(self) -> list[str]:
        """All its clays."""
        return list(dict.fromkeys(clay for own in self.of for slug in own for clay in slug.mix))


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

    slugs: Slugs | None = field(default=None, compare=False)
    """None: each cartridge is of one clay."""

    @property
    def hose(self) -> tuple[str, str]:
        """Clay in the hose when the piece begins, and when it ends."""
        if self.slugs is None:
            return self.uses[0][0], self.uses[-1][0]
        return name_of(self.slugs.first), self.slugs.at_end

    @property
    def clays(self) -> list[str]:
        """All its clays."""
        return [colour for colour, _ in self.uses] if self.slugs is None else self.slugs.clays

    def need_ml(self, number: int) -> float:
        """What a cartridge must have for it, without the reserve; 0 is its first cartridge, -1 its last."""
        return self.needs_ml[number] if self.needs_ml else self.uses[number][1]

    @property
    def clay_ml(self) -> float:
        """Clay out of all its cartridges."""
        return sum(ml for _, ml in self.uses)


class Job(NamedTuple):
    """What a piece is printed from."""

    path: Path
    recipe: Recipe
    allow: tuple[str, ...]
    time_factor: float

    def config(self, first_ml: float | None, first_number: int = 1) -> Config:
        """Its config with so much in the first cartridge, and what that is called; None: full."""
        return self.recipe.config.beginning(first_ml, first_number)


@dataclass(frozen=True, slots=True)
class DayPiece:
    """A piece of the day."""

    name: str
    full: Printing
    """From a full cartridge, with the hose full of its first colour."""
    filling: Printing
    """From a cartridge that has filled the hose first."""
    needs: tuple[ClayNeed, ...] = field(default=(), compare=False, repr=False)
    """What it takes of each clay, its slab included."""
    names: Names = field(default=NO_NAMES, compare=False, repr=False)
    """Of its clays."""
    doubts: tuple[str, ...] = field(default=(), compare=False, repr=False)
    """What of its bands can't be as it is asked for."""
    warned: tuple[str, ...] = field(default=(), compare=False, repr=False)
    """All that `gpost run` would warn of."""
    job: Job | None = field(default=None, compare=False, repr=False)
    """None: it is printed already, or of no file."""


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
        found = _read(path, common, loaded, folders, tuple(allow), time_factor)
        if isinstance(found, LeftOut):
            left_out.append(found)
            free_failed()
        else:
            pieces.append(found)
        if on_piece is not None:
            on_piece(done, len(files))
    return common.config, pieces, left_out


def _read(
    path: Path,
    common: Recipe,
    loaded: LoadedConfig,
    folders: Sequence[Path],
    allow: tuple[str, ...],
    time_factor: float,
) -> DayPiece | LeftOut:
    try:
        recipe = _on_one_kind(path, recipe_of(path, common, loaded, folders), common)
        return _piece(Job(path, recipe, allow, time_factor))
    except GpostError as error:
        return LeftOut(path.name, str(error).replace("\n", "; "))


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
    return cartridge.model_copy(update={"first_ml": None, "first_number": 1})


def filling_ml(cartridge: Cartridge) -> float:
    """Clay that makes the hose full of a new colour, ml; where the hose mixes, more than it holds."""
    return cartridge.hose.pushed_ml(FULL)


def _piece(job: Job) -> DayPiece:
    """Raises PlanError for what can't be printed, and SourceError."""
    plan, summary = tried(job.path, job.config(None), job.recipe.steps, allow=job.allow)
    cartridge = job.recipe.config.cartridge
    full = _printing(plan, job, cartridge.volume_ml)
    told = tuple(clay_needs(plan)), names_of(plan), tuple(band_doubts(plan)), summary.warnings, job
    filled_ml = cartridge.volume_ml - filling_ml(cartridge)
    if len(full.uses) == 1 or filled_ml <= cartridge.reserve_ml:
        return DayPiece(job.path.name, full, full, *told)
    filled = _printing(_planned(plan, job, filled_ml), job, filled_ml)
    return DayPiece(job.path.name, full, filled, *told)


def begun_on(piece: DayPiece, held_ml: float) -> DayPiece:
    """The piece as it begins on a cartridge with so much in it, if it needs that; as it is if it can't."""
    job = piece.job
    if job is None or piece.full.slugs is not None or len(piece.full.uses) == 1:
        return piece
    try:
        plan = plan_file(job.path, job.config(held_ml), job.recipe.steps, allow=job.allow)
        begun = _printing(plan, job, held_ml)
    except PlanError:
        return piece
    return replace(piece, full=begun, filling=begun)


def _printing(plan: Plan, job: Job, first_ml: float) -> Printing:
    """Of a plan whose first cartridge holds `first_ml`. Raises PlanError if one holds less than is asked."""
    found = _printed(plan, job.time_factor)
    if len(found.uses) == 1:
        return found
    least_ml = to_load_ml(job.recipe.config, found.need_ml(0))
    try:
        same = _alike(found, _printed(_planned(plan, job, least_ml), job.time_factor))
    except PlanError:
        same = False
    return found if same else replace(found, only_from_ml=first_ml)


def _alike(one: Printing, other: Printing) -> bool:
    """Whether both take the same out of the same cartridges."""
    return len(one.uses) == len(other.uses) and all(
        a[0] == b[0] and abs(a[1] - b[1]) <= SAME_ML for a, b in zip(one.uses, other.uses, strict=True)
    )


def _planned(plan: Plan, job: Job, first_ml: float) -> Plan:
    """The plan of the same piece from another first cartridge. Raises PlanError when the steps can't."""
    return make_plan(plan.survey, job.recipe.steps, job.config(first_ml), allow=plan.allowed)


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
        slugs=_slugs(plan),
    )


def _slugs(plan: Plan) -> Slugs | None:
    """None if each cartridge is of one clay. Raises PlanError for colours that can't be loaded in a day."""
    bands, wrong = plan.config.colours, misfit_of_colours(plan)
    if wrong:
        raise PlanError(wrong)
    inside = contents(plan)
    if bands is None or len(inside.clays) == 1:
        return None
    line_ml, end_ml = plan.config.cartridge.line_ml, plan.total_ml
    held = [name_of(mix) for mix, _ in inside.between(-line_ml, 0.0)]
    if len(held) > 1:
        raise PlanError(
            f"the hose would have to hold {', then '.join(held)} when it begins, and a day fills it with one "
            f"clay; say which (colours: line_holds), and let the other bands begin higher"
        )
    last = [name_of(mix) for mix, _ in inside.between(end_ml - filling_ml(plan.config.cartridge), end_ml)]
    found = [slug for slug in slugs_of(plan, inside) if slug.cartridge and not slug.reserve]
    numbers = [use.number for use in cartridges(plan)]
    by_cartridge = tuple(tuple(slug for slug in found if slug.cartridge == number) for number in numbers)
    at_end = name_of(inside.at(end_ml)) if len(set(last)) <= 1 else MIXED
    return Slugs(inside.first, at_end, by_cartridge, bands.loaded_from)


def _own(own: OwnPause) -> str:
    if own.goes_on_after_s is not None:
        return say("waits.keep_off", time=lasting(own.goes_on_after_s))
    return say("waits.own", command=own.command)


def _stops(plan: Plan, time_factor: float) -> tuple[Stop, ...]:
    messages = Messages(plan)
    stops = [
        Stop(
            plan.clock_at(pause.spot) * time_factor,
            recorded(messages.of(pause) or pause.reason),
            pause.new_cartridge,
        )
        for pause in plan.pauses
    ]
    stops += [Stop(plan.clock_at(Spot(own.line)) * time_factor, _own(own), False) for own in plan.own_pauses]
    return tuple(sorted(stops, key=lambda stop: stop.clock_s))
