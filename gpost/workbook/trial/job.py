"""What `gpost calibrate` does with its options."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from gpost.clay.folds import Fold
from gpost.clay.mixing import fit_line
from gpost.clay.strength import fold_yield_pa
from gpost.clay.trials import Weighing
from gpost.clay.water import Measured as When
from gpost.config.load import load_config
from gpost.config.model import Config
from gpost.errors import ConfigError
from gpost.pipeline import make_plan, run_file, survey_file
from gpost.preflight.model import ALLOWABLE
from gpost.report.toload import what_to_load
from gpost.steps.recipe import read_recipe
from gpost.workbook.trial import colourwords, strengthwords, weighed
from gpost.workbook.trial import words as report
from gpost.workbook.trial.colour import Changes, Measured, Pair, pushed_ml, read_off_ml
from gpost.workbook.trial.lumps import Triple, dried, shrunk, slip
from gpost.workbook.trial.measures import measures
from gpost.workbook.trial.morning import morning
from gpost.workbook.trial.strength import Folded, coned, slumped
from gpost.workbook.trial.strip import StripWishes, amounts_e, load_ml, strip
from gpost.workbook.trial.tube import TubeWishes, tube_gcode, tube_of
from gpost.workbook.trial.weighings import calibrate
from gpost.workbook.trial.weighingsfile import read_weighings
from gpost.write.inputs import reading
from gpost.write.packing import packed
from gpost.write.sink import AtomicFile, check_target, work_folder


@dataclass(frozen=True, slots=True)
class Asked:
    """The command line of a trial."""

    configs: tuple[Path, ...] = ()
    studio: tuple[Path, ...] = ()
    weighings: tuple[Pair, ...] = ()
    weighings_file: Path | None = None
    mornings: tuple[Pair, ...] = ()
    fillings: tuple[Pair, ...] = ()
    strip: Path | None = None
    amount_ml: float = 10.0
    extrusions: int = 4
    cup_mm: float = 60.0
    first: tuple[str, ...] = ()
    colours: tuple[Pair, ...] = ()
    piece: Path | None = None
    measured: When | None = None
    drying_percent: float | None = None
    slumps: tuple[Pair, ...] = ()
    tube: Path | None = None
    tube_diameter_mm: float | None = None
    rise_mm_min: float = 10.0
    tube_height_mm: float | None = None
    folds: tuple[Fold, ...] = ()
    cones: tuple[float, ...] = ()
    cone_mass_g: float = 80.0
    cone_angle: float = 30.0
    dried: tuple[Pair, ...] = ()
    dry_density: float | None = None
    shrunk: tuple[Triple, ...] = ()
    density: float | None = None
    as_json: bool = False
    width: int | None = None
    """Columns of the terminal, as `laid_out` takes them."""
    overwrite: bool = False
    folders: tuple[Path, ...] = ()


def do_trial(asked: Asked) -> str:
    """What to print. Raises GpostError."""
    if asked.colours:
        return _colour(asked)
    config = load_config(asked.configs, studio=asked.studio).config
    if asked.strip is not None:
        return _strip(asked, asked.strip, config)
    if asked.fillings:
        filled = measures(asked.fillings, config)
        return weighed.measures_json(filled) if asked.as_json else weighed.measures_text(filled, asked.width)
    if asked.mornings:
        return _morning(asked, config)
    if asked.dried or asked.shrunk or asked.dry_density is not None:
        return _lumps(asked, config)
    if asked.tube is not None:
        return _tube(asked, asked.tube, config)
    if asked.folds or asked.slumps or asked.cones:
        return _strength(asked, config)
    return _weighings(asked, config)


def _density(asked: Asked, config: Config) -> float:
    return config.clay.wet_density_g_ml if asked.density is None else asked.density


def _weighings(asked: Asked, config: Config) -> str:
    weighings = [Weighing(*pair) for pair in asked.weighings]
    if asked.weighings_file is not None:
        weighings += read_weighings(asked.weighings_file)
    found = calibrate(
        weighings, _density(asked, config), config.clay.metering, config.cartridge.hose.holdup_ml
    )
    return weighed.weighings_json(found) if asked.as_json else weighed.weighings_text(found, asked.width)


def _morning(asked: Asked, config: Config) -> str:
    found = morning([Weighing(*pair) for pair in asked.mornings], _density(asked, config), config)
    return weighed.morning_json(found) if asked.as_json else weighed.morning_text(found, asked.width)


def _strip(asked: Asked, path: Path, config: Config) -> str:
    wishes = StripWishes(asked.amount_ml, asked.extrusions, asked.cup_mm, asked.first)
    text = strip(config, wishes)
    check_target(path, overwrite=asked.overwrite, inputs=reading(configs=[*asked.studio, *asked.configs]))
    with packed(AtomicFile(path, asked.overwrite), path) as out:
        out.write(text.encode("ascii"))
    most_ml = load_ml(config, wishes)
    return report.strip_report(
        path.name,
        amounts_e(config, wishes),
        most_ml,
        most_ml * _density(asked, config),
        as_json=asked.as_json,
        width=asked.width,
    )


def _colour(asked: Asked) -> str:
    trials, measured, least_ml = list(asked.colours), None, 0.0
    recipe = read_recipe(asked.configs, asked.folders, studio=asked.studio)
    if asked.piece is not None:
        survey = survey_file(asked.piece, recipe.config)
        # it has been printed, so whatever stood in its way was allowed
        plan = make_plan(survey, recipe.steps, recipe.config, allow=ALLOWABLE)
        measured = Measured(asked.measured, asked.drying_percent)
        heights_mm = measured.printed_mm(trials, plan.config.clay)
        trials = pushed_ml(plan, trials, measured)
        least_ml = read_off_ml(trials, heights_mm)
    try:
        fit = fit_line(trials, plug_part=recipe.config.cartridge.plug_part, least_ml=least_ml)
    except ValueError as error:
        raise ConfigError(f"--colour: {error}") from error
    found = Changes(fit, tuple(trials), recipe.config, measured)
    return colourwords.colour_json(found) if asked.as_json else colourwords.colour_text(found, asked.width)


def _tube(asked: Asked, path: Path, config: Config) -> str:
    """Write the tube's file: by the one way that files are judged, without any step."""
    wishes = TubeWishes(asked.tube_diameter_mm, asked.rise_mm_min, asked.tube_height_mm, asked.first)
    text, tube = tube_gcode(config, wishes), tube_of(config, wishes)
    check_target(path, overwrite=asked.overwrite, inputs=reading(configs=[*asked.studio, *asked.configs]))
    with work_folder() as folder:
        source = folder / "tube.gcode"
        source.write_bytes(text.encode("ascii"))
        made = run_file(source, path, config, [], overwrite=asked.overwrite)
    stood = Fold(tube.height_mm, 60 * tube.height_mm / tube.rise_mm_min, "stood")
    most_pa = fold_yield_pa(stood, _density(asked, config))
    load = what_to_load(made.cartridges[0])
    if asked.as_json:
        return strengthwords.tube_json(path.name, tube, most_pa, load)
    return strengthwords.tube_text(path.name, tube, most_pa, load, asked.width)


def _strength(asked: Asked, config: Config) -> str:
    """Tubes that folded, cylinders that sank, a cone that fell in."""
    density = _density(asked, config)
    if asked.folds:
        folded = Folded(asked.folds, density)
        return (
            strengthwords.folded_json(folded)
            if asked.as_json
            else strengthwords.folded_text(folded, asked.width)
        )
    if asked.slumps:
        sank = slumped(asked.slumps, density)
        return (
            strengthwords.slump_json(sank) if asked.as_json else strengthwords.slump_text(sank, asked.width)
        )
    cones = coned(asked.cones, asked.cone_mass_g, asked.cone_angle)
    return strengthwords.cone_json(cones) if asked.as_json else strengthwords.cone_text(cones, asked.width)


def _lumps(asked: Asked, config: Config) -> str:
    """Lumps that dried, bars that shrank, a slip that was weighed."""
    if asked.shrunk:
        bars = shrunk(asked.shrunk)
        return report.shrunk_json(bars) if asked.as_json else report.shrunk_text(bars, asked.width)
    if asked.dried:
        lumps = dried(asked.dried, asked.dry_density, asked.density)
        return report.dried_json(lumps) if asked.as_json else report.dried_text(lumps, asked.width)
    assert asked.dry_density is not None
    found = slip(_density(asked, config), asked.dry_density)
    return report.slip_json(found) if asked.as_json else report.slip_text(found, asked.width)
