"""An E whose mode is changed on the way: by G90 and G91 under `axis_mode_sets_e`, by an M82 or M83 too many.

Which line changes it is known here, since each test writes it; whether what is advised helps is tried.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Clay, Config, CubicMillimetres, Machine
from tests.survey.epots import Pot, SurveyOf, told

LIFT = ("G91", "G0 Z2 F600", "G90")
MODE = "makes it"


def of_clay(said: tuple[str, ...]) -> list[str]:
    """Sentences that speak of clay."""
    return [text for text in said if "line" in text or " ml" in text]


def lines_of(pot: Pot, line: str) -> list[int]:
    """Where it stands, from 1."""
    return [at for at, one in enumerate(pot.text.splitlines(), 1) if one == line]


@pytest.mark.parametrize("shape", ["cylinder", "star", "cone", "rough"])
@pytest.mark.parametrize("sides", [4, 24])
@pytest.mark.parametrize("relief_mm3", [0.0, 300.0])
@pytest.mark.parametrize("flows", [(1.0,), (1.0, 1.6, 1.0, 0.8)])
def test_g91_and_g90_between_layers_take_m83_away(
    survey_of: SurveyOf, shape: str, sides: int, relief_mm3: float, flows: tuple[float, ...]
) -> None:
    """It is the one thing told, with the first G90 and how many more; both ways out that it names are ways out."""
    pot = Pot(shape, sides=sides, relative=True, relief_mm3=relief_mm3, flows=flows, lift=LIFT)
    (said,) = of_clay(told(survey_of, pot.text))
    first = lines_of(pot, "G90")[1]
    assert said.startswith(
        f"E is relative by M83 on line 3, but G90 on line {first} makes it absolute, as "
        "`machine: axis_mode_sets_e` has it, and so on 6 lines more. From there on its words don't grow"
    )
    assert f"Write M83 again after line {first} and after each such G90; or, if the machine keeps" in said
    assert not of_clay(told(survey_of, pot.with_(lift=(*LIFT, "M83")).text))
    keeps = Config(clay=Clay(metering=CubicMillimetres(unit="mm3")), machine=Machine(axis_mode_sets_e=False))
    assert not of_clay(told(survey_of, pot.text, config=keeps))


def test_the_amounts_of_the_layers_after_it(survey_of: SurveyOf) -> None:
    """Seven of eight rings of 24 sides of 5.221 mm and 11 mm^2: 9.65 ml, of which E as read lays none."""
    (said,) = of_clay(told(survey_of, Pot(relative=True, lift=LIFT).text))
    assert "the beads looked at take 0 ml; if each word adds to what was before, 9.65 ml, which fits" in said


@pytest.mark.parametrize("relative", [True, False])
@pytest.mark.parametrize("layer", [1, 4, 7])
@pytest.mark.parametrize("relief_mm3", [0.0, 40.0])
@pytest.mark.parametrize("shape", ["cylinder", "star", "helix"])
def test_an_m82_or_m83_too_many(
    survey_of: SurveyOf, relative: bool, layer: int, relief_mm3: float, shape: str
) -> None:
    """As a pause by hand brings it: on the second layer, in the middle, before the last."""
    right, wrong = ("M83", "M82") if relative else ("M82", "M83")
    pot = Pot(shape, relative=relative, relief_mm3=relief_mm3, says=((layer, wrong),))
    (said,) = of_clay(told(survey_of, pot.text))
    at = lines_of(pot, wrong)[0]
    was, now = ("relative", "absolute") if relative else ("absolute", "relative")
    assert said.startswith(f"E is {was} by {right} on line 3, but {wrong} on line {at} makes it {now}. From")
    assert said.endswith(f"Take out {wrong} on line {at}, or write {right} again after it")
    assert not of_clay(told(survey_of, pot.with_(says=((layer, wrong), (layer, right))).text))


def test_a_mode_that_nobody_has_said_is_known_by_the_beads_laid_in_it(survey_of: SurveyOf) -> None:
    """Nothing says M82, for a machine counts so at first; then an M83 comes."""
    pot = Pot(head="G94", says=((4, "M83"),))
    (said,) = of_clay(told(survey_of, pot.text))
    assert said.startswith(f"E is absolute by G90 on line 2, but M83 on line {lines_of(pot, 'M83')[0]} makes")


@pytest.mark.parametrize("relative", [True, False])
def test_axes_that_take_the_mode_along_before_anything_is_laid(survey_of: SurveyOf, relative: bool) -> None:
    """M83 stands before the head's own G90, or M82 before a G91 that isn't taken back for E."""
    pot = Pot(relative=relative, head="M83", prime=("G90",)) if relative else Pot(prime=("G91", "G90", "M83"))
    (said,) = of_clay(told(survey_of, pot.text))
    at = lines_of(pot, "G90" if relative else "M83")[-1]
    assert f"on line 3, but {'G90' if relative else 'M83'} on line {at} makes it" in said


@pytest.mark.parametrize("relative", [True, False])
@pytest.mark.parametrize("layers", [1, 3])
def test_a_mode_that_is_put_right_later_is_missing_for_the_first_layers(
    survey_of: SurveyOf, relative: bool, layers: int
) -> None:
    """The foot alone is read wrongly: the missing command belongs before its first bead."""
    right, wrong = ("M83", "M82") if relative else ("M82", "M83")
    resets = ((layers, "G92 E0"),) if relative else ()
    pot = Pot(relative=relative, head=wrong, says=((layers, right), *resets))
    (said,) = of_clay(told(survey_of, pot.text))
    assert f"An {right} seems to be missing: put {right} before line {pot.first_e_line}," in said


@pytest.mark.parametrize("relative", [True, False])
@pytest.mark.parametrize("push", [True, False])
def test_a_prime_that_is_right_keeps_its_mode(survey_of: SurveyOf, relative: bool, push: bool) -> None:
    """A prime by hand under the mode in force, a G92, then a wall in the other: the command belongs between."""
    places = [3000 * push, 3000 * push + 880, 3000 * push + 1760]
    out, back = places[1:] if relative else (880, 880)
    prime = ("G0 X20 Y20 Z2", *["G1 E3000 F300"][: int(push)])
    prime = (*prime, f"G1 X100 E{out} F1500", f"G1 X20 E{back}", "G92 E0")
    pot = Pot(relative=relative, head="M82" if relative else "M83", prime=prime)
    (said,) = of_clay(told(survey_of, pot.text))
    wall = lines_of(pot, "G92 E0")[-1] + 2  # the flight to it comes between
    assert f"put {'M83' if relative else 'M82'} before line {wall}," in said


@given(
    pot=st.builds(
        Pot,
        st.sampled_from(["cylinder", "helix", "star", "cone", "closing"]),
        st.integers(1, 6),
        st.sampled_from([3, 12, 24]),
        st.booleans(),
        relief_mm3=st.sampled_from([0.0, 300.0]),
        resets=st.booleans(),
        flows=st.lists(st.floats(0.3, 3.0), min_size=1, max_size=4).map(tuple),
    ),
    lift=st.sampled_from([LIFT, ("G91", "G1 Z2 E-30", "G1 Z0 E30", "G90"), ("G91", "G1 X20 E220", "G90")]),
    unit=st.sampled_from([0.1, 1.0, 25.0]),
)
def test_no_file_that_says_its_mode_again_is_doubted(
    survey_of: SurveyOf, pot: Pot, lift: tuple[str, ...], unit: float
) -> None:
    """Lifts, draws and strokes by G91 in every layer, with the mode said again after each."""
    again = "M83" if pot.relative else "M82"
    right = pot.with_(lift=(*lift, again), flows=tuple(unit * flow for flow in pot.flows))
    assert not any(MODE in text or "seems to be missing" in text for text in told(survey_of, right.text))


@pytest.mark.parametrize("pot", [Pot(relative=True, lift=LIFT), Pot(says=((4, "M83"),))])
def test_how_the_file_is_cut_makes_no_difference(survey_of: SurveyOf, pot: Pot) -> None:
    """Blocks of a line each, or one."""
    assert told(survey_of, pot.text, chunk_bytes=1) == told(survey_of, pot.text)
