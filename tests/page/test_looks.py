"""Clays look as the studio says, and differ on grey paper too; nothing is guessed from a name."""

from __future__ import annotations

import itertools
import re

from gpost.api import Config
from gpost.page.looks import PAPER, PATTERNS, Looks
from gpost.page.stills import side_view
from tests.page.jobs import SWATCHES, banded, elements, refilled, texts

CONFIG = Config.model_validate({"clays": list(SWATCHES)})


def test_a_swatch_is_the_studios() -> None:
    """Its own colour, whatever the name says."""
    config = Config.model_validate({"clays": [{"name": "cobalt blue", "swatch": "#a3452f"}]})
    assert Looks(["cobalt blue"], config, key="a").all["cobalt blue"].ground == "#a3452f"


def test_what_has_none_is_hatched_on_white() -> None:
    """Cobalt, red and white clay without a swatch: white paper with a pattern, no colour at all."""
    looks = Looks(["cobalt blue", "red", "white"], Config(), key="a")
    assert {look.ground for look in looks.all.values()} == {PAPER}
    assert all(PATTERNS[look.pattern] for look in looks.all.values())
    assert set(re.findall(r"stroke='(#\w+)'", looks.defs())) == {"#26221d"}


def test_patterns_differ() -> None:
    """Of 30 clays no two have the same pattern at the same size, and the first with a swatch has none."""
    names = [f"clay {number}" for number in range(30)]
    looks = Looks(["white", *names], CONFIG, key="a")
    drawn = [(look.pattern, look.scale) for look in looks.all.values()]
    assert len(set(drawn)) == 31
    assert drawn[0] == ("plain", 1.0)
    tiles = re.findall(r"<pattern .*?</pattern>", looks.defs())
    bodies = [re.sub(r"id='\w+'", "", tile) for tile in tiles]
    assert len(tiles) == 31
    assert all(one != other for one, other in itertools.combinations(bodies, 2))


def test_more_clays_than_patterns_are_drawn_all_the_same() -> None:
    """A hundred clays: each has a look."""
    assert len(Looks(map(str, range(100)), Config(), key="a").all) == 100


def test_a_pattern_stands_out_from_its_ground() -> None:
    """Dark on a light swatch, light on a dark one."""
    looks = Looks(["white", "cobalt blue"], CONFIG, key="a")
    assert [look.ink for look in looks.all.values()] == ["#26221d", "#ffffff"]


def test_colours_mix_by_shares() -> None:
    """Half black and half white are grey; the patterns show by their shares, and less than a trace doesn't."""
    config = Config.model_validate(
        {"clays": [{"name": "a", "swatch": "#000000"}, {"name": "b", "swatch": "#ffffff"}]}
    )
    looks = Looks(["a", "b"], config, key="a")
    assert looks.colour({"a": 0.5, "b": 0.5}) == "#808080"
    assert looks.colour({"a": 1.0}) == "#000000"
    opacity = [
        float(
            re.findall(r"fill-opacity='([\d.]+)'", looks.filled({"a": 1 - share, "b": share}, "<path/>"))[0]
        )
        for share in (0.1, 0.5, 1.0)
    ]
    assert opacity == sorted(set(opacity))
    assert "url" not in looks.filled({"a": 0.99, "b": 0.01}, "<path/>")


def test_the_legend_names_every_clay_in_full() -> None:
    """However long its name; of one without a swatch it says so."""
    name = "Grandmother's celadon with very fine grog from the river behind the old kiln of the village"
    summary, plan = banded({"to_mm": 60, "clay": "white"}, {"clay": name})
    said = " ".join(texts(side_view(summary, plan).svg))
    assert f"{name} (no swatch in the config: hatched)" in said
    assert "white (no swatch" not in said


def test_two_pictures_on_a_page_dont_share_names() -> None:
    """Names of patterns begin with the picture's own key."""
    summary, plan = refilled(31)
    found = [element.get("id") or "" for element in elements(side_view(summary, plan).svg, "pattern")]
    assert found
    assert all(name.startswith("side") for name in found)
