"""The step that lays clay beside the piece before the first layer."""

from __future__ import annotations

import pytest
from gpost_plugins.purge import Purge, gpost_steps

from gpost.api import LayClay, Note, PlanError, SilencePush
from gpost.supply.cartridges import cartridges
from gpost.testing import layer_start, make_survey, run_step


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Purge]


@pytest.mark.parametrize(("settings", "clay_ml"), [({}, 45.0), ({"volume_ml": 20}, 20.0)])
def test_it_lays_the_line_volume_or_what_is_asked_for(settings: dict[str, float], clay_ml: float) -> None:
    """Without a volume it lays what the hose holds, so that fresh clay is at the nozzle."""
    survey = make_survey()
    plan = run_step(Purge, settings, survey, {"cartridge": {"line_ml": 45}})
    (lay,) = plan.of(LayClay)
    assert lay.spot == layer_start(survey, 1)
    assert lay.clay_ml == pytest.approx(clay_ml)
    assert plan.total_ml == pytest.approx(survey.clay_ml + clay_ml)


def test_feed_and_wipe_can_be_set() -> None:
    """Both go into the lay as they are."""
    (lay,) = run_step(Purge, {"feed_mm_min": 700, "wipe_mm": 25}, make_survey()).of(LayClay)
    assert (lay.feed_mm_min, lay.wipe_mm) == (700, 25)


def test_no_volume_lays_nothing_and_says_so() -> None:
    """A line of 0 ml needs no purge."""
    plan = run_step(Purge, {}, make_survey(), {"cartridge": {"line_ml": 0}})
    assert not plan.of(LayClay)
    assert "0 ml" in plan.of(Note)[0].text


def test_what_does_not_fit_is_refused() -> None:
    """Two litres don't fit beside a pot."""
    with pytest.raises(PlanError, match=r"2000\.0 ml don't fit on the bed"):
        run_step(Purge, {"volume_ml": 2000}, make_survey())


def test_several_pieces_are_no_hindrance() -> None:
    """Layer 1 is one place even when pieces are printed one after the other."""
    assert run_step(Purge, {}, make_survey(pieces=3)).of(LayClay)


@pytest.mark.parametrize(("lead_in_ml", "lines"), [(20.0, 10), (0.0, 0)])
def test_the_file_s_own_prime_is_silenced(lead_in_ml: float, lines: int) -> None:
    """All that is pushed in place before the first clay, which is then counted no more; or a note that there is none."""
    survey = make_survey(lead_in_ml=lead_in_ml, lead_in_lines=10)
    plan = run_step(Purge, {"volume_ml": 5, "silence_own_prime": True}, survey)
    assert [push.line for push in plan.of(SilencePush)] == list(range(lines))
    assert plan.total_ml == pytest.approx(survey.clay_ml - lead_in_ml + 5)
    assert cartridges(plan)[0].need_ml == pytest.approx(plan.total_ml)
    said = f"is silenced: {lead_in_ml:.1f} ml on {lines} lines" if lines else "doesn't prime by itself"
    assert said in plan.of(Note)[0].text


def test_without_a_volume_it_can_silence_all_the_same() -> None:
    """For who primes by hand."""
    plan = run_step(Purge, {"volume_ml": 0, "silence_own_prime": True}, make_survey(lead_in_ml=20))
    assert (len(plan.of(SilencePush)), len(plan.of(LayClay))) == (10, 0)


def test_a_file_without_layers_is_refused() -> None:
    """There is no first layer to lay it before."""
    with pytest.raises(PlanError, match="no clay is laid"):
        run_step(Purge, {}, make_survey(layers=0))
