"""What `gpost calibrate` does with its options."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from gpost.clay.mixing import fit_line
from gpost.clay.trials import Weighing
from gpost.clay.walls import slump_yield_stress_pa
from gpost.config.load import load_config
from gpost.config.model import Config
from gpost.errors import ConfigError
from gpost.pipeline import make_plan, survey_file
from gpost.preflight.model import ALLOWABLE
from gpost.steps.recipe import read_recipe
from gpost.workbook.trial import words as report
from gpost.workbook.trial.colour import Pair, pushed_ml
from gpost.workbook.trial.lumps import Triple, dried, shrunk, slip
from gpost.workbook.trial.strip import StripWishes, amounts_e, strip
from gpost.workbook.trial.weighings import calibrate, read_weighings
from gpost.write.inputs import reading
from gpost.write.packing import packed
from gpost.write.sink import AtomicFile, check_target


@dataclass(frozen=True, slots=True)
class Asked:
    """The command line of a trial."""

    configs: tuple[Path, ...] = ()
    studio: tuple[Path, ...] = ()
    weighings: tuple[Pair, ...] = ()
    weighings_file: Path | None = None
    strip: Path | None = None
    amount_ml: float = 10.0
    extrusions: int = 4
    cup_mm: float = 60.0
    first: tuple[str, ...] = ()
    colours: tuple[Pair, ...] = ()
    piece: Path | None = None
    slumps: tuple[Pair, ...] = ()
    dried: tuple[Pair, ...] = ()
    dry_density: float | None = None
    shrunk: tuple[Triple, ...] = ()
    density: float | None = None
    as_json: bool = False
    overwrite: bool = False
    folders: tuple[Path, ...] = ()


def do_trial(asked: Asked) -> str:
    """What to print. Raises GpostError."""
    if asked.colours:
        return _colour(asked)
    config = load_config(asked.configs, studio=asked.studio).config
    if asked.strip is not None:
        return _strip(asked, asked.strip, config)
    if asked.dried or asked.shrunk or asked.dry_density is not None:
        return _lumps(asked, config)
    return _slump(asked, config) if asked.slumps else _weighings(asked, config)


def _density(asked: Asked, config: Config) -> float:
    return config.clay.wet_density_g_ml if asked.density is None else asked.density


def _weighings(asked: Asked, config: Config) -> str:
    weighings = [Weighing(*pair) for pair in asked.weighings]
    if asked.weighings_file is not None:
        weighings += read_weighings(asked.weighings_file)
    found = calibrate(weighings, _density(asked, config), config.clay.metering)
    return (report.weighings_json if asked.as_json else report.weighings_text)(found)


def _strip(asked: Asked, path: Path, config: Config) -> str:
    wishes = StripWishes(asked.amount_ml, asked.extrusions, asked.cup_mm, asked.first)
    text = strip(config, wishes)
    check_target(path, overwrite=asked.overwrite, inputs=reading(configs=[*asked.studio, *asked.configs]))
    with packed(AtomicFile(path, asked.overwrite), path) as out:
        out.write(text.encode("ascii"))
    return report.strip_report(path.name, amounts_e(config, wishes), as_json=asked.as_json)


def _colour(asked: Asked) -> str:
    trials = list(asked.colours)
    recipe = read_recipe(asked.configs, asked.folders, studio=asked.studio)
    if asked.piece is not None:
        survey = survey_file(asked.piece, recipe.config)
        # it has been printed, so whatever stood in its way was allowed
        plan = make_plan(survey, recipe.steps, recipe.config, allow=ALLOWABLE)
        trials = pushed_ml(plan, trials)
    try:
        fit = fit_line(trials, plug_part=recipe.config.cartridge.plug_part)
    except ValueError as error:
        raise ConfigError(f"--colour: {error}") from error
    return (report.colour_json if asked.as_json else report.colour_text)(fit, trials)


def _slump(asked: Asked, config: Config) -> str:
    density = _density(asked, config)
    try:
        yields = [slump_yield_stress_pa(height, slump, density) for height, slump in asked.slumps]
    except ValueError as error:
        raise ConfigError(f"--slump: {error}") from error
    return (report.slump_json if asked.as_json else report.slump_text)(yields, density)


def _lumps(asked: Asked, config: Config) -> str:
    """Lumps that dried, bars that shrank, a slip that was weighed."""
    if asked.shrunk:
        bars = shrunk(asked.shrunk)
        return (report.shrunk_json if asked.as_json else report.shrunk_text)(bars)
    if asked.dried:
        lumps = dried(asked.dried, asked.dry_density, asked.density)
        return (report.dried_json if asked.as_json else report.dried_text)(lumps)
    assert asked.dry_density is not None
    found = slip(_density(asked, config), asked.dry_density)
    return (report.slip_json if asked.as_json else report.slip_text)(found)
