"""Which colourants are called poisonous, and that all others are sent to their data sheets."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.clay.poison import NAMES, SYMBOLS, dust_cautions, is_poisonous

FORMULAS = (
    *("CoCO3", "Co3O4", "CoO", "MnO2", "MnCO3", "Cr2O3", "K2Cr2O7", "NiO", "CuCO3", "CuO", "Cu2O", "V2O5"),
    *("CdS", "CdSe", "SeO2", "PbO", "Pb3O4", "Sb2O3", "BaCO3", "BaSO4", "Li2CO3", "Pr6O11", "ZrSiO4"),
    *("CoSO4", "As2O3", "UO2", "NaVO3"),
)
"""Of colourants and fluxes, from common practice; no source."""
HARMLESS_IN_NAME = (
    *(
        "tin",
        "lime",
        "cream",
        "red clay",
        "white",
        "black",
        "pink",
        "blue",
        "basalt",
        "bacon",
        "coal",
        "cocoa",
    ),
    *(
        "nice blue",
        "base yellow",
        "pearl",
        "salmon",
        "bronze",
        "iron oxide",
        "rutile",
        "mulled wine",
        "as sky",
    ),
    *(
        "to be tried",
        "coffee",
        "slate",
        "monolith",
        "pleading",
        "blue 2",
        "pink 13",
        "case",
        "silica",
        "snow",
    ),
    *("Fe2O3", "fe2o3", "FE2O3", "SnO2", "sno2", "SNO2", "TiO2", "tio2", "CaCO3", "caco3", "CACO3", "MgCO3"),
    *("na2co3", "Na2CO3", "CaSO4", "caso4", "SiO2", "Al2O3", "ZnO", "Er2O3"),
)


@pytest.mark.parametrize("name", FORMULAS)
def test_formulas_in_any_case(name: str) -> None:
    """As written, in small and in large letters, with subscripts, and among words."""
    lowered = name.translate(
        str.maketrans("0123456789", "\u2080\u2081\u2082\u2083\u2084\u2085\u2086\u2087\u2088\u2089")
    )
    for written in (name, name.lower(), name.upper(), lowered, f"fine {name}, milled", f"[{name.lower()}]"):
        assert is_poisonous(written), written


@pytest.mark.parametrize("symbol", sorted(SYMBOLS))
def test_symbols_in_any_case(symbol: str) -> None:
    """By themselves, or joined with another."""
    for written in (symbol, symbol.lower(), symbol.upper(), f"Fe-{symbol}", f"Fe/{symbol.upper()}"):
        assert is_poisonous(written), written


@pytest.mark.parametrize(
    "name",
    [
        *(
            "Cobalt oxide",
            "manganese",
            "CHROME GREEN",
            "dichromate",
            "red lead",
            "Lead-tin yellow",
            "uranium",
        ),
        *(
            "cadmium-selenium red",
            "bluecobalt",
            "Cu(OH)2",
            "2CuCO3\u00b7Cu(OH)2",
            "litharge",
            "lithium",
            "vanadate",
        ),
        *("zircon", "copper_carbonate", "baryta", "praseodymium yellow", "antimonate", "nickel"),
    ],
)
def test_names(name: str) -> None:
    """Salts and minerals too, whatever stands around them."""
    assert is_poisonous(name)


@pytest.mark.parametrize("name", HARMLESS_IN_NAME)
def test_words_that_only_hold_the_letters(name: str) -> None:
    """Nothing is called poisonous by accident; each is sent to its data sheet all the same."""
    assert not is_poisonous(name)
    assert dust_cautions([name]) == [
        f"The name {name} doesn't say what is in it as dust: see its data sheet."
    ]


def test_a_long_name_is_read_once() -> None:
    """Letters that can be split into elements in many ways are split in one: the test ends."""
    assert not is_poisonous("co" * 500 + "q1")
    assert is_poisonous("co" * 500 + "1")


@given(st.lists(st.text(max_size=12), unique=True, max_size=4))
def test_no_colourant_goes_without_a_word(names: list[str]) -> None:
    """Every name, whatever it is, is in one of the cautions, and the data sheet with it."""
    said = dust_cautions(names)
    for name in names:
        assert any(name in text and "data sheet" in text for text in said)


@given(st.sampled_from(NAMES), st.text("abcdefgh ", max_size=5), st.text("abcdefgh ", max_size=5))
def test_names_are_found_within_words(name: str, before: str, after: str) -> None:
    """Such as in a compound's name."""
    assert is_poisonous(before + name + after)
