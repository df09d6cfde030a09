"""The summary says what the plan and the written file say."""

from __future__ import annotations

import dataclasses

import pytest

from gpost.config.model import Cartridge, Clay, Config
from gpost.plan.intentions import Intention, Note, Pause, Say
from gpost.plan.plan import Plan
from gpost.preflight.checks import Preflight
from gpost.report.model import Summary
from gpost.report.summary import CAUTIONS, summarise
from gpost.spot import Spot
from gpost.testing import layer_start, make_survey
from gpost.write.output import Written

SURVEY = make_survey(layers=20, ml_per_layer=10)
CONFIG = Config(
    cartridge=Cartridge(volume_ml=120, reserve_ml=20, line_ml=30),
    clay=Clay(wet_density_g_ml=2.0, colour="white"),
)


def swap(layer: int, **more: float) -> Pause:
    return Pause(
        layer_start(SURVEY, layer),
        "swap",
        "blue is to show from layer 14 on",
        "Load blue",
        new_cartridge=True,
        colour="blue",
        **more,
    )


def summary_of(*wishes: Intention, written: Written | None = None) -> Summary:
    plan = Plan(SURVEY, CONFIG).adding("swap", wishes)
    places = dict.fromkeys(range(len(wishes)), (50, 60))
    return summarise(plan, written or Written(4321, 99, places), source="vase.nc", output="out.nc")


def test_head_of_the_summary() -> None:
    """Names, totals and the written file's size stand at the top."""
    found = summary_of()
    assert (found.source, found.output, found.steps) == ("vase.nc", "out.nc", ("swap",))
    assert (found.layers, found.height_mm) == (20, pytest.approx(40))
    assert (found.clay_ml, found.time_s) == (pytest.approx(200), pytest.approx(1200))
    assert (found.output_bytes, found.output_lines) == (4321, 99)


@pytest.mark.parametrize(
    ("metering", "ml", "bead"),
    [
        ({"unit": "ml", "ml_per_unit": 0.003}, 0.003, None),
        ({"unit": "mm3"}, 0.001, None),
        (
            {"unit": "path", "bead_height_mm": 2},
            None,
            "6 mm wide (1.5 times `machine: nozzle_mm`) and 2 mm high (`bead_height_mm`)",
        ),
    ],
)
def test_what_a_unit_of_e_was(metering: dict[str, object], ml: float | None, bead: str | None) -> None:
    """The summary keeps by what clay and mass were reckoned, for whoever reads it without the config."""
    config = Config.model_validate({"clay": {"metering": metering, "wet_density_g_ml": 1.9}})
    found = summarise(Plan(SURVEY, config), Written(1, 1), source="a", output="b").metering
    assert found is not None
    assert found.model_dump() == {
        "unit": metering["unit"], "file": None, "ml_per_unit": ml, "wet_density_g_ml": 1.9, "path_bead": bead
    }  # fmt: skip


def test_pause_says_where_when_and_what() -> None:
    """A pause before layer 11 is 100 ml and 600 s into the job, and says what to load."""
    [pause] = summary_of(swap(11, prime_ml=5)).pauses
    assert (pause.step, pause.kind, pause.layer, pause.output_line) == ("swap", "swap", 11, 50)
    assert (pause.clay_ml, pause.clock_s) == (pytest.approx(100), pytest.approx(600))
    assert (pause.height_mm, pause.colour, pause.prime_ml) == (pytest.approx(22), "blue", 5)


def test_new_clay_shows_one_line_volume_later() -> None:
    """With 30 ml in the line and none primed, clay loaded before layer 11 shows with layer 14."""
    [pause] = summary_of(swap(11)).pauses
    assert (pause.shows_at_layer, pause.shows_at_height_mm) == (14, pytest.approx(28))


def test_new_clay_that_never_shows() -> None:
    """Clay that doesn't reach the nozzle before the piece ends shows nowhere."""
    [pause] = summary_of(swap(20)).pauses
    assert (pause.shows_at_layer, pause.shows_at_height_mm) == (None, None)


def test_shares_by_height_are_given_where_they_change() -> None:
    """White at first, blue from layer 14 on; a plug has no more to it, and one colour has nothing to tell."""
    first, second = summary_of(swap(11)).shares
    assert (first.layer, first.height_mm, first.clays) == (1, 2, {"white": 1})
    assert (second.layer, second.height_mm, second.clays) == (14, 28, {"blue": 1})
    assert summary_of().shares == ()


def test_pause_without_new_clay_shows_nothing() -> None:
    """A pause in which nothing is loaded has no front."""
    [pause] = summary_of(Pause(layer_start(SURVEY, 5), "look", "check the base", "Look")).pauses
    assert (pause.shows_at_layer, pause.new_cartridge, pause.colour) == (None, False, None)


def test_air_arrives_one_hose_volume_after_its_cartridge() -> None:
    """30 ml of 10 a layer after layer 11's start; a prime of 12 brings it nearer; one of 40 lets it out at the park."""
    refill = Pause(layer_start(SURVEY, 11), "refill", "", "", new_cartridge=True)
    air = [
        summary_of(dataclasses.replace(refill, prime_ml=prime_ml)).pauses[0] for prime_ml in (0.0, 10.0, 40.0)
    ]
    assert [(pause.air_at_layer, pause.air_at_height_mm) for pause in air] == [
        (14, 28),
        (13, 26),
        (None, None),
    ]
    assert summary_of(Pause(layer_start(SURVEY, 5), "look", "", "")).pauses[0].air_at_layer is None
    late = dataclasses.replace(refill, spot=layer_start(SURVEY, 19))
    assert summary_of(late).pauses[0].air_at_layer is None


def test_a_pause_says_how_long_it_may_last() -> None:
    """By the hose: 60 min less the 3 that 30 ml take anyway. By the rim: as the config says. The block takes its part."""
    look = Pause(layer_start(SURVEY, 11), "look", "", "")
    unknown, own_s = summary_of(look).pauses[0], Plan(SURVEY, CONFIG).adding("look", [look]).stops[0].seconds
    assert unknown.hose_min == pytest.approx(57 - own_s / 60)
    assert (unknown.rim_min, unknown.joins) == (None, True)
    clay = CONFIG.clay.model_copy(update={"rim_min": 8.0})
    plan = Plan(SURVEY, CONFIG.model_copy(update={"clay": clay})).adding("look", [look])
    (known,) = summarise(plan, Written(1, 1, {0: (5, 9)}), source="a", output="b").pauses
    assert known.rim_min == pytest.approx(8 - own_s / 60)
    first = summary_of(Pause(layer_start(SURVEY, 1), "look", "", "")).pauses[0]
    assert (first.rim_min, first.joins) == (None, False)


def test_pauses_come_in_printing_order() -> None:
    """Pauses are told in the order in which the potter meets them, with their own output lines."""
    wishes = (swap(15), Pause(layer_start(SURVEY, 5), "look", "check the base", "Look"))
    found = summary_of(*wishes, written=Written(1, 1, {0: (90, 95), 1: (30, 35)}))
    assert [(pause.kind, pause.output_line) for pause in found.pauses] == [("look", 30), ("swap", 90)]


def test_cartridges_share_the_job() -> None:
    """The first cartridge gives what is metered before the swap, the second the rest; mass is by density."""
    found = summary_of(swap(11, prime_ml=5)).cartridges
    assert [(c.number, c.colour, c.clay_ml, c.wet_g) for c in found] == [
        (1, "white", pytest.approx(100), pytest.approx(200)),
        (2, "blue", pytest.approx(105), pytest.approx(210)),
    ]
    assert [c.need_ml for c in found] == [
        100,
        pytest.approx(105.3),
    ]  # what the pause drew back is given again
    assert [c.over_ml for c in found] == [0, pytest.approx(5.3)]


def test_what_must_be_in_a_cartridge_has_the_reserve_on_top() -> None:
    """The reserve stays behind, so that much more must be loaded than the job takes."""
    plan = Plan(
        SURVEY, CONFIG.model_copy(update={"cartridge": Cartridge(volume_ml=220, reserve_ml=20, line_ml=30)})
    )
    [found] = summarise(plan, Written(1, 1), source="a", output="b").cartridges
    assert (found.clay_ml, found.load_ml, found.load_g) == pytest.approx((200, 220, 440))


def test_what_the_line_holds_before_and_after() -> None:
    """It starts full of the first colour; after a swap it ends with what went in last, as a plug."""
    assert summary_of(swap(11)).line.model_dump() == {
        "clay_ml": 30, "at_start": "white", "at_end": {"blue": pytest.approx(30)}, "slugs": (),
    }  # fmt: skip
    assert summary_of(swap(19)).line.at_end == {"blue": pytest.approx(20), "white": pytest.approx(10)}


def test_colours_lag_by_the_line_volume() -> None:
    """In the piece, white goes on for the 30 ml in the line; the prime is run out beside it."""
    found = summary_of(swap(11, prime_ml=5)).colours
    assert [(c.colour, c.clay_ml, c.piece_ml) for c in found] == [
        ("white", pytest.approx(130), pytest.approx(125)),
        ("blue", pytest.approx(75), pytest.approx(75)),
    ]


def test_notes_and_warnings_name_their_step() -> None:
    """Notes carry their step's name once; the survey's warnings come first."""
    survey = dataclasses.replace(SURVEY, warnings=("E runs backwards",))
    plan = Plan(survey, CONFIG).adding("tally", [Note("tally: 200 ml"), Note("short of clay", warning=True)])
    found = summarise(plan, Written(1, 1), Preflight(CONFIG).findings(plan), source="a", output="b")
    assert found.notes[0] == "tally: 200 ml"
    assert found.warnings[:2] == ("E runs backwards", "tally: short of clay")


def test_pause_that_was_not_written_is_an_error() -> None:
    """A pause that the writer doesn't know can't be summed up: the file can't be trusted."""
    with pytest.raises(KeyError):
        summary_of(swap(11), written=Written(1, 1))


def test_cautions_name_the_dangers() -> None:
    """Every summary warns of the moving machine, of dust, of electricity and of eating from it."""
    assert summary_of().cautions == CAUTIONS
    told = " ".join(CAUTIONS).lower()
    assert all(
        word in told for word in ("moves again", "silica", "power supplies", "food-safe", "local codes")
    )


def test_file_without_layers() -> None:
    """A file that lays no clay can be summed up."""
    plan = Plan(make_survey(layers=0), CONFIG).adding("cold", [Say(Spot(0), "hello")])
    found = summarise(plan, Written(1, 1, {0: (1, 1)}), source="a", output="b")
    assert (found.layers, found.height_mm, found.clay_ml) == (0, 0.0, 0.0)


def test_names_that_are_no_text_can_be_told() -> None:
    """A file name with bytes that are no text doesn't break the summary."""
    plan = Plan(SURVEY, CONFIG)
    found = summarise(plan, Written(1, 1), source="vase\udcff.nc", output="b")
    assert found.source == r"vase\udcff.nc"


def test_the_piece_dries_and_shrinks() -> None:
    """200 ml of density 2 at 25 % water are 300 g dry; 40 mm at 14 % are 34.4 fired. A prime is no piece."""
    found = summary_of(swap(11, prime_ml=5)).piece
    assert (found.clay_ml, found.wet_g) == (pytest.approx(200), pytest.approx(400))
    assert (found.dry_g, found.water_g) == (pytest.approx(300), pytest.approx(100))
    assert found.fired_height_mm == pytest.approx(34.4)
    assert (found.fired_x_mm, found.fired_y_mm) == (pytest.approx(68.8), pytest.approx(68.8))


def test_upwards_the_piece_may_shrink_otherwise() -> None:
    """`shrinkage_z_percent` holds for the height alone."""
    clay = Clay(shrinkage_percent=10, shrinkage_z_percent=20)
    found = summarise(Plan(SURVEY, Config(clay=clay)), Written(1, 1), source="a", output="b").piece
    assert (found.fired_x_mm, found.fired_height_mm) == (pytest.approx(72), pytest.approx(32))


@pytest.mark.parametrize(("whole", "upwards"), [(0.5, 99.5), (14, 0), (13, 14.5), (7, 99)])
@pytest.mark.parametrize("part", [0, 0.3, 0.7, 1])
def test_no_side_grows_in_the_fire(part: float, whole: float, upwards: float) -> None:
    """Each side is longest wet, and no longer fired than dry, whatever part of the shrinkage is drying."""
    clay = Clay(drying_percent=part * whole, shrinkage_percent=whole, shrinkage_z_percent=upwards)
    found = summarise(Plan(SURVEY, Config(clay=clay)), Written(1, 1), source="a", output="b").piece
    wet, dry, fired = found.outside_wet, found.outside_dry, found.outside_fired
    assert wet is not None
    assert dry is not None
    assert fired is not None
    assert wet.x_mm >= dry.x_mm >= fired.x_mm
    assert wet.height_mm >= dry.height_mm >= fired.height_mm


def test_cartridges_have_a_dry_mass_and_water() -> None:
    """25 % of the wet mass is water, of every cartridge for itself."""
    (found,) = summary_of().cartridges
    assert (found.wet_g, found.dry_g) == (pytest.approx(400), pytest.approx(300))
    assert found.water_g == pytest.approx(100)
    first, second = summary_of(swap(6)).cartridges
    assert (first.water_g, second.water_g) == (pytest.approx(25), pytest.approx(75))
