"""What prints teach: means, spreads, and when they teach nothing."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from gpost.clay.spread import spread_of
from gpost.clay.trials import Weighing
from gpost.config.model import Config
from gpost.errors import ConfigError, PlanError
from gpost.workbook.log.fit import LogFit, fit_prints
from gpost.workbook.log.lines import by_average, config_lines, no_metering, no_reserve, no_time
from gpost.workbook.log.model import Found, Predicted, PrintRow
from gpost.workbook.log.words import fit_json, fit_text
from gpost.workbook.trial.weighed import weighings_text
from gpost.workbook.trial.weighings import calibrate

CONFIG = Config()


def printed(number: int, found: Found, ml_per_unit: float | None = 0.0024) -> PrintRow:
    """A print of 500 g and 40 minutes, of clay of 2 g/ml."""
    return PrintRow(number, "", Predicted("vase", 300, 500, 40, 2.0, ml_per_unit), found)


def test_flow_is_learnt_over_changes_of_the_config() -> None:
    """Prints under an old and a new config speak for the same clay per unit of E."""
    rows = [printed(1, Found(450), 0.0024), printed(2, Found(500), 0.00216)]
    fit = fit_prints(rows)
    assert fit.mass is not None
    assert fit.ml_per_unit is not None
    assert fit.mass.mean == pytest.approx(0.95)
    assert fit.ml_per_unit.mean == pytest.approx(0.00216, abs=1e-12)
    assert fit.ml_per_unit.deviation < 2e-6


def test_predictions_of_different_configs_are_told() -> None:
    """In words and in the JSON, with the prints of each; a density weighed once more is no other config."""
    dense = PrintRow(4, "", Predicted("vase", 300, 500, 40, 1.7, 0.0024), Found(505))
    near = PrintRow(5, "", Predicted("vase", 300, 500, 40, 2.04, 0.0024), Found(505))
    old = [printed(1, Found(450), 0.0024), printed(2, Found(455), 0.0024), near]
    assert "different configs" not in fit_text(fit_prints(old), CONFIG)
    fit = fit_prints([*old, printed(3, Found(500), 0.00216), dense])
    for said in (fit_text(fit, CONFIG), *json.loads(fit_json(fit, CONFIG))["doubts"][:1]):
        words = " ".join(said.split())
        assert "predicted by different configs" in words
        assert "with 0.0024 ml per unit of E and 2 g per ml (prints 1, 2, 5)" in words
        assert "with 0.00216 ml per unit of E and 2 g per ml (print 3)" in words
        assert "with 0.0024 ml per unit of E and 1.7 g per ml (print 4)" in words
    left = fit_prints([*old, printed(3, Found(500), 0.00216), dense], without=[3, 4])
    assert "different configs" not in fit_text(left, CONFIG)


def test_each_is_learnt_from_the_prints_that_say_it() -> None:
    """A print without minutes still teaches flow; what fewer than two prints say stays unknown."""
    rows = [printed(1, Found(450, 50)), printed(2, Found(500)), printed(3, Found(left_g=90))]
    fit = fit_prints(rows)
    assert fit.mass is not None
    assert fit.mass.count == 2
    assert (fit.time, fit.left_ml) == (None, None)


def test_fewer_than_two_prints() -> None:
    """No print, one, or two that say different things, teach nothing."""
    for rows in (
        [],
        [printed(1, Found(450, 50, 90))],
        [printed(1, Found(450)), printed(2, Found(minutes=9))],
    ):
        with pytest.raises(PlanError, match="at least 2 prints"):
            fit_prints(rows)


def test_prints_left_out() -> None:
    """A print that went wrong is left out; a number that is not there is refused."""
    rows = [printed(n, Found(500)) for n in (1, 2)] + [printed(3, Found(50))]
    fit = fit_prints(rows, [3])
    assert fit.mass is not None
    assert fit.mass.mean == 1
    with pytest.raises(PlanError, match="no print 7"):
        fit_prints(rows, [7])


def test_what_was_dropped_teaches_nothing() -> None:
    """As if it had never been added; its number may still be named with --without."""
    rows = [printed(n, Found(500)) for n in (1, 2)]
    dropped = PrintRow(3, "", rows[0].predicted, Found(50), "2026-03-01T10:00:00+00:00")
    assert fit_prints([*rows, dropped]) == fit_prints(rows)
    assert fit_prints([*rows, dropped], [3]) == fit_prints(rows)


def weighed(*grams: float) -> list[PrintRow]:
    """Prints that weighed so much, of 500 g."""
    return [printed(number, Found(each)) for number, each in enumerate(grams, 1)]


def left(*grams: float) -> list[PrintRow]:
    """Prints that left so much in the cartridge, of clay of 2 g/ml."""
    return [printed(number, Found(left_g=each)) for number, each in enumerate(grams, 1)]


def test_no_reading_is_finer_than_its_steps() -> None:
    """Three prints that weigh 500 g to the gram are off by 1 / sqrt(12) g each all the same.

    Guide to the expression of uncertainty in measurement, JCGM 100:2008, F.2.2.1 (from memory).
    """
    fit = fit_prints(weighed(500, 500, 500))
    assert fit.mass is not None
    assert fit.mass.deviation == pytest.approx(1 / math.sqrt(12) / 500)


def usual_reach(count: int) -> float:
    """1.96 standard errors of prints of 500 g that err as weighings do, a share of them.

    0.25 g where a strand ends, a scale's steps of 1 g, and clay that comes unevenly by 1 % (common practice, no
    source), as for `calibrate`.
    """
    return 1.96 * math.sqrt((0.25**2 + 1 / 12 + 5**2) / count) / 500


def test_three_that_agree_are_no_surer_than_usual() -> None:
    """500 g three times over may be luck, for the log as for `calibrate`: the same spread, told in the same words."""
    fit = fit_prints(weighed(500, 500, 500))
    assert fit.mass is not None
    assert fit.mass.reach == pytest.approx(usual_reach(3), rel=1e-3)
    next_percent = 100 * usual_reach(3) / 1.96 * math.sqrt(4)
    assert lines_of(fit)[-1] == f"  metering: {{unit: ml, ml_per_unit: 0.0024, spread_percent: {next_percent:.2g}}}"
    said = " ".join(fit_text(fit, CONFIG).split())
    strip = [Weighing(10_000 * n, round(48.1 * n, 1)) for n in (1, 2, 3, 4)]
    other = " ".join(weighings_text(calibrate(strip, 2.0, CONFIG.clay.metering)).split())
    for text in (said, other):
        assert "so few may agree by luck: the line's spread is what" in text
    assert "by luck" not in fit_text(fit_prints(weighed(490, 500, 510)), CONFIG)


def test_ten_that_agree_know_their_own_spread() -> None:
    """Nine are held to the usual errors; ten that differ by 0.5 % are not."""
    grams = [500 + 2.5 * (-1) ** number for number in range(10)]
    nine, ten = (fit_prints(weighed(*grams[:count])).mass for count in (9, 10))
    assert nine is not None
    assert ten is not None
    assert nine.reach == pytest.approx(usual_reach(9), rel=1e-2)
    assert ten.reach == pytest.approx(2.262 * 2.5 / 500 * math.sqrt(10 / 9) / math.sqrt(10), rel=1e-3)  # t(9): table


def test_equal_minutes_are_as_sure_as_the_clock() -> None:
    """Nothing is known of how machines usually err: the clock's steps alone count."""
    fit = fit_prints(timed((40, 44), (40, 44), (40, 44)))
    assert fit.time is not None
    assert fit.time.reach == pytest.approx(4.303 / math.sqrt(12) / 40 / math.sqrt(3), rel=1e-3)  # t(2): table


def test_a_slip_among_five_is_left_out_and_named() -> None:
    """The other four speak; their mean is theirs alone."""
    fit = fit_prints(weighed(500, 505, 380, 497, 502))
    assert fit.left_out == {"mass": 3, "ml_per_unit": 3}
    assert fit.mass is not None
    assert (fit.mass.count, fit.mass.mean) == (4, pytest.approx((500 + 505 + 497 + 502) / 2000))


def timed(*pairs: tuple[float, float]) -> list[PrintRow]:
    """Prints of so many minutes predicted, and so many taken."""
    return [
        PrintRow(number, "", Predicted("vase", 300, 500, said, 2.0, 0.0024), Found(minutes=taken))
        for number, (said, taken) in enumerate(pairs, 1)
    ]


LONG = ((31.74, 41), (31.74, 41), (31.74, 41), (15.08, 20))


def test_a_typed_figure_has_the_room_of_its_last_digit() -> None:
    """4 min for 3.4 are 3.5 to 4.5, x 1.03 to 1.32: no print of 1.3 contradicts it, and it moves the mean by little.

    2 and 7 min they do. 40 min said of a long print are a tenth less than the others make of it, as prints may be.
    """
    alone, found = fit_prints(timed(*LONG)).time, fit_prints(timed(*LONG, (3.4, 4)))
    assert (found.left_out, found.odd) == ({}, {})
    assert found.time is not None
    assert alone is not None
    assert found.time.count == 5
    assert found.time.mean == pytest.approx(alone.mean, abs=0.006)
    assert no_time(found) == ""
    for said, taken in ((3.4, 2), (3.4, 7)):
        assert fit_prints(timed(*LONG, (said, taken))).left_out == {"time": 5}
    tenth = fit_prints(timed(*LONG, (34, 40)))
    assert (tenth.rare, tenth.left_out) == ({"time": 5}, {})


def test_of_four_nobody_can_tell_which_is_wrong() -> None:
    """So the odd one stays in, is named, and no line is given."""
    fit = fit_prints(weighed(500, 500.1, 400, 500))
    assert (fit.odd, fit.left_out) == ({"mass": 3, "ml_per_unit": 3}, {})
    assert "print 3 does not agree" in no_metering(fit, Config())
    assert lines_of(fit) == []


KILOGRAMS = (0.5, 0.505, 0.51)


def test_what_can_hardly_be_meant_gives_no_line() -> None:
    """Kilograms for grams, minutes as seconds: `log add` asked about each, and of such prints nothing is learnt."""
    rows = [printed(n, Found(g, 2400 + n)) for n, g in enumerate(KILOGRAMS, 1)]
    fit = fit_prints(rows)
    assert fit.far == {"mass": (1, 2, 3), "ml_per_unit": (1, 2, 3), "time": (1, 2, 3)}
    assert lines_of(fit) == []
    for said in (fit_text(fit, CONFIG), " ".join(json.loads(fit_json(fit, CONFIG))["doubts"])):
        words = " ".join(said.split())
        assert "no time factor is learnt: prints 1, 2, 3 can hardly be meant" in words
        assert "print 1: 0.5 g is far from the 500 g that were predicted" in words
        assert "log drop 1" in words
        assert "--time-factor" not in words
        assert "make it surer" not in words


def test_more_than_three_doubts_are_told_by_their_prints() -> None:
    """A sentence each would be a page."""
    text = " ".join(fit_text(fit_prints(weighed(0.5, 0.51, 0.52, 0.53, 0.54)), CONFIG).split())
    assert "print 3: 0.52 g is far" in text
    assert "print 4: " not in text
    assert "asked about prints 4, 5 too" in text


@pytest.mark.parametrize(
    ("grams", "teaches"), [((190, 195, 192), True), ((1400, 1390, 1410), True), ((165, 164, 166), False), ((1500, 1510, 1520), False)]
)
def test_only_three_times_or_a_third_can_hardly_be_meant(grams: tuple[float, ...], teaches: bool) -> None:
    """E of a strand of 2.85 mm that is counted as one of 1.75 makes 2.65: (2.85 / 1.75) squared."""
    assert bool(lines_of(fit_prints(weighed(*grams)))) == teaches


def test_a_slip_that_is_left_out_stops_no_line() -> None:
    """The decimal of one of six slipped: it is named, and the five speak; with --without as well."""
    rows = weighed(500, 505, 5010, 497, 502, 499)
    for fit in (fit_prints(rows), fit_prints(rows, [3])):
        assert fit.far == {}
        assert lines_of(fit)
        assert "is far from" not in fit_text(fit, CONFIG)


def test_what_calibrate_refuses_is_refused_in_the_same_words() -> None:
    """A unit of E of a piece's whole clay, or of nothing: the same sentence begins both."""
    rows = [printed(n, Found(g), 2e-6) for n, g in enumerate((500, 505, 510), 1)]
    with pytest.raises(ConfigError) as refused:
        calibrate([Weighing(1000, 0.00202 * 2)], 2.0, CONFIG.clay.metering)
    sentence = str(refused.value).partition(":")[0]
    assert sentence == "2.02e-06 ml per unit of E can't be"
    assert sentence in no_metering(fit_prints(rows), CONFIG)
    assert lines_of(fit_prints(rows)) == []


def lines_of(fit: LogFit, config: Config = CONFIG, *, average: bool = False) -> list[str]:
    """The config's lines, without what is said of them."""
    return [line for line in config_lines(fit, config, average=average) if not line.lstrip().startswith("#")]


def test_why_a_line_s_spread_is_wider_is_said_above_it() -> None:
    """Of 1.03, 1.04, .. 1.07 times the mean differs by sqrt(0.001 / 4) = 0.0158, 1.5 % of 1.05; the next print's 95 %
    interval is t(4) = 2.776 (table) times sqrt(1 + 1 / 5) of that to each side, 1.55 of it for each 1.96."""
    lines = list(config_lines(fit_prints(weighed(515, 520, 525, 530, 535)), CONFIG, average=False))
    assert lines[-1] == "  metering: {unit: ml, ml_per_unit: 0.00252, spread_percent: 2.3}"
    assert lines[-2] == "  # spread_percent is the next print's; these 5 differ by +-1.5 %"
    left = fit_prints([printed(number, Found(left_g=grams)) for number, grams in enumerate((90, 100, 95, 104), 1)])
    average = list(config_lines(left, CONFIG, average=True))
    assert average[-1] == "  reserve_spread_ml: 5.5"  # sqrt(27.7 / 3) = 3.04 ml, t(3) = 3.182 times sqrt(1 + 1 / 4)
    assert average[-2] == "  # reserve_spread_ml is the next cartridge's; these 4 differ by +-3 ml"


def test_a_figure_that_stays_is_told_as_such() -> None:
    """500 g three times over, of 500 predicted: nothing has changed, neither up nor down."""
    present = Config.model_validate({"clay": {"metering": {"unit": "ml", "ml_per_unit": 0.00240001}}})
    assert "  # as the present" in config_lines(fit_prints(weighed(500, 500, 500)), present, average=False)


@pytest.mark.parametrize(("grams", "times"), [((550, 555, 545), "1.1"), ((500, 505, 495), ""), ((450, 600, 640), "")])
def test_prints_without_e_speak_for_the_bead(grams: tuple[float, ...], times: str) -> None:
    """A tenth more clay than its section says; nothing where that isn't sure, or is nothing."""
    fit = fit_prints([printed(number, Found(each), None) for number, each in enumerate(grams, 1)])
    for said in (fit_text(fit, CONFIG), *json.loads(fit_json(fit, CONFIG))["doubts"]):
        assert (f"a bead holds {times} times the clay that `clay: bead_width_mm`" in " ".join(said.split())) == bool(times)
    assert lines_of(fit) == []


def test_of_many_prints_nothing_is_wider() -> None:
    """Of a hundred t(99) is 1.984, a hundredth more than 1.96."""
    fit = fit_prints(weighed(*(500 + 5 * (-1) ** number for number in range(100))))
    assert "the next" not in " ".join(config_lines(fit, CONFIG, average=False))


@pytest.mark.parametrize("slip", [0.2, -0.2, 0.35, 0.5, -0.5])
@pytest.mark.parametrize("scatter", [0.005, 0.01, 0.02, 0.03])
def test_a_slip_among_five_moves_no_line(slip: float, scatter: float) -> None:
    """Of 200 logs with one print 20 to 50 % off each gives no line, or one within the interval without the slip."""
    random = np.random.default_rng(int(1000 * scatter + 100 * slip) % 97)
    given = 0
    for _ in range(200):
        grams = 500 * (0.97 + scatter * random.standard_normal(5))
        wrong = int(random.integers(5))
        grams[wrong] *= 1 + slip
        fit = fit_prints(weighed(*np.round(grams).tolist()))
        assert fit.ml_per_unit is not None
        if no_metering(fit, CONFIG):
            continue
        given += 1
        good = spread_of((np.round(np.delete(grams, wrong)) / 500 * 0.0024).tolist())
        assert abs(fit.ml_per_unit.mean - good.mean) <= good.reach
    assert given > 0 or scatter > 0.02


def test_a_line_that_is_given_is_right_as_often_as_it_says() -> None:
    """Of the lines that 2000 drawn logs of three to eight prints give, 93 % or more hold the truth."""
    random, given, held = np.random.default_rng(8), 0, 0
    for _ in range(2000):
        grams = 500 * (1 + random.uniform(0.005, 0.04) * random.standard_normal(int(random.integers(3, 9))))
        fit = fit_prints(weighed(*np.round(grams, 1).tolist()))
        assert fit.ml_per_unit is not None
        if no_metering(fit, CONFIG):
            continue
        given += 1
        held += abs(fit.ml_per_unit.mean - 0.0024) <= fit.ml_per_unit.reach
    assert given > 800
    assert held / given > 0.93


@pytest.mark.parametrize("count", [3, 4, 5, 6, 8])
@pytest.mark.parametrize("scatter", [0.01, 0.02])
def test_honest_prints_stay_and_the_spread_is_as_it_says(count: int, scatter: float) -> None:
    """Of 1500 logs without a bad print none goes, and 95 % of the means and of the next prints are where they should be.

    Also in the logs where one lies far off by chance: they are a twentieth, and lose nothing of their width.
    The truth lies within the interval, the next print within 1.96 of its spread: of 1500 the share of 95 % is
    within 1.5 % of that in 99 of 100 runs (binomial). Logs whose mean is too loose give no line; of the others fewer
    are as wide as they should be, the more so the fewer prints there are, so all are counted here.
    """
    random, held, came, rare = np.random.default_rng(count), 0, 0, 0
    for _ in range(1500):
        grams = 500 * (1 + scatter * random.standard_normal(count + 1))
        fit = fit_prints(weighed(*np.round(grams[:-1]).tolist()))
        assert (fit.left_out, fit.odd, fit.mass is None) == ({}, {}, False)
        assert fit.mass is not None
        rare += bool(fit.rare)
        held += abs(fit.mass.mean - 1) <= fit.mass.reach
        came += abs(grams[-1] / 500 - fit.mass.mean) <= 1.96 * fit.mass.next_spread
    assert held / 1500 > 0.935
    assert came / 1500 > 0.935
    assert rare / 1500 < 0.07


def test_a_print_that_chance_puts_far_off_counts_and_is_named() -> None:
    """515 g beside four of about 490: 5 % off, as prints of one clay may be. It counts, and is said to."""
    fit = fit_prints(weighed(490, 491, 515, 489, 490))
    assert (fit.rare, fit.left_out, fit.odd) == ({"mass": 3, "ml_per_unit": 3}, {}, {})
    assert fit.mass is not None
    assert (fit.mass.count, fit.mass.mean) == (5, pytest.approx((490 + 491 + 515 + 489 + 490) / 2500))
    text = " ".join(fit_text(fit, CONFIG).split())
    assert "print 3 lies far from the others" in text
    assert "it counts here (mass, clay per unit of E)" in text
    assert json.loads(fit_json(fit, CONFIG))["rare"] == {"mass": 3, "ml_per_unit": 3}
    assert lines_of(fit)


def test_two_prints_give_no_line() -> None:
    """They may agree by luck."""
    fit = fit_prints(weighed(500, 500))
    assert "may agree by luck" in no_metering(fit, CONFIG)
    assert lines_of(fit) == []


def test_a_line_with_its_spread() -> None:
    """490, 500 and 510 g of 500: mean 1, deviation 0.02; the next print, with t of 4.303 for 1.960 (tables)."""
    fit = fit_prints(weighed(490, 500, 510))
    spread_percent = 100 * 4.303 / 1.960 * 0.02 * math.sqrt(4 / 3)
    assert lines_of(fit) == [
        "clay:",
        f"  metering: {{unit: ml, ml_per_unit: 0.0024, spread_percent: {spread_percent:.2g}}}",
    ]


def test_a_loose_mean_teaches_nothing() -> None:
    """450, 500 and 550 g: the mean's interval is +-25 %."""
    fit = fit_prints(weighed(450, 500, 550))
    assert "known to +-25 % only (95 %), and must be to +-5 %" in no_metering(fit, CONFIG)
    assert lines_of(fit) == []


def test_a_config_that_knows_better_is_kept() -> None:
    """The mean's interval of 491, 500 and 509 g is +-4.5 %; a spread of 2 % says +-3.9 %, one of 3 % says 5.9 %."""
    fit = fit_prints(weighed(491, 500, 509))
    for percent, kept in ((2, True), (3, False)):
        config = Config.model_validate({"clay": {"metering": {"unit": "mm3", "spread_percent": percent}}})
        assert ("the config knows better" in no_metering(fit, config)) == kept
        assert (lines_of(fit, config) == []) == kept


def test_no_time_factor_from_times_that_scatter() -> None:
    """40 min predicted: 30, 40 and 60 taken teach nothing, 41, 42 and 43 do."""
    loose = fit_prints([printed(n, Found(minutes=taken)) for n, taken in enumerate((30, 40, 60), 1)])
    near = fit_prints([printed(n, Found(minutes=taken)) for n, taken in enumerate((41.5, 42, 42.5), 1)])
    assert "known to" in no_time(loose)
    assert no_time(near) == ""


def test_the_reserve_is_a_tolerance_limit() -> None:
    """90, 100 and 110 g are 45, 50 and 55 ml: 50 + 7.656 x 5 (one-sided factor, 95 % and 95 %, tables)."""
    fit = fit_prints(left(90, 100, 110))
    assert fit.limit_ml == pytest.approx(50 + 7.656 * 5, abs=0.01)
    assert lines_of(fit) == ["cartridge:", "  reserve_ml: 88"]


def test_or_an_average_with_its_spread_and_never_both() -> None:
    """If asked for, or if the config has a spread: 50 ml, and 5 x 4.303 / 1.960 x sqrt(4 / 3) for the next."""
    fit = fit_prints(left(90, 100, 110))
    expected = ["cartridge:", "  reserve_ml: 50", f"  reserve_spread_ml: {5 * 2.195 * math.sqrt(4 / 3):.2g}"]
    assert lines_of(fit, average=True) == expected
    assert "limit" not in fit_text(fit, CONFIG, average=True)
    spread = Config.model_validate({"cartridge": {"reserve_spread_ml": 20}})
    assert by_average(spread, asked=False)
    assert not by_average(CONFIG, asked=False)
    known = Config.model_validate({"cartridge": {"reserve_spread_ml": 2}})
    assert lines_of(fit, known, average=True) == []


def test_a_limit_of_more_than_half_the_cartridge_is_none() -> None:
    """10, 400 and 900 g left over ask for about 2,150 ml."""
    fit = fit_prints(left(10, 400, 900))
    assert "scatters too much" in no_reserve(fit, CONFIG, average=False)
    assert "known to" in no_reserve(fit, CONFIG, average=True)
    assert lines_of(fit) == []


def test_a_cartridge_that_kept_much_more_stops_the_line() -> None:
    """It may be a slip, and it may be what a reserve is for: it is named, and the potter decides."""
    rows = left(90, 92, 91, 93, 400, 92)
    assert "print 5 does not agree" in no_reserve(fit_prints(rows), CONFIG, average=False)
    assert no_reserve(fit_prints(rows, [5]), CONFIG, average=False) == ""


def test_nothing_said_goes_below_nothing() -> None:
    """Neither in the words nor in the JSON, however much prints scatter."""
    fit = fit_prints([printed(n, Found(each, each, each)) for n, each in enumerate((1, 900), 1)])
    assert " -" not in fit_text(fit, CONFIG)
    record = json.loads(fit_json(fit, CONFIG))
    assert [record[name]["low"] for name in ("mass_ratio", "ml_per_unit", "time_ratio", "left_ml")] == [0] * 4


def test_the_words_name_what_was_left_out() -> None:
    """And why a line is missing."""
    text = " ".join(fit_text(fit_prints(weighed(500, 505, 380, 497, 502)), CONFIG).split())
    assert "print 3 does not agree with the others, and is left out here (mass, clay per unit of E)" in text
    assert "two of three within +-" in text
    assert "metering: {unit: ml" in text
    loose = " ".join(fit_text(fit_prints(weighed(450, 500, 550)), CONFIG).split())
    assert "no clay per unit of E is learnt: it is known to +-25 % only" in loose
    assert "metering" not in loose


def test_every_line_fits_a_terminal() -> None:
    """At most 80 characters, but for the lines of the config."""
    rows = [
        printed(n, Found(each, each / 10, each / 5)) for n, each in enumerate((470, 520, 250, 505, 440), 1)
    ]
    text = fit_text(fit_prints(rows), CONFIG)
    assert max(len(line) for line in text.partition("\n\n")[0].splitlines()) <= 80
