"""Files and names that were mixed up: a config for the sliced file, the other way round, a blank in a name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Gpost = Callable[..., Result]
QUOTES = "A name with a blank in it must stand in quotes"


@pytest.mark.parametrize(
    "words",
    ["run {} -c studio.yaml -o out.gcode", "check {} -c studio.yaml", "survey {} -c studio.yaml"],
)
def test_a_config_for_the_sliced_file(
    gpost: Gpost, sliced: Path, config: Path, steps: Path, words: str
) -> None:
    """It is told from its name."""
    more = () if words.startswith("survey") else ("--steps-from", steps)
    result = gpost(*words.format("studio.yaml").split(), *more)
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.endswith(
        "studio.yaml is a config, not G-code; name the sliced file there, and the config with -c\n"
    )


def test_the_sliced_file_for_a_config(gpost: Gpost, sliced: Path) -> None:
    """The same the other way round."""
    result = gpost("run", "vase.gcode", "-c", "vase.gcode", "-o", "out.gcode")
    assert (result.exit_code, result.stdout) == (2, "")
    assert (
        "vase.gcode: the config can't be read: it is a sliced file; name a YAML file there" in result.stderr
    )


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        ("run my vase.gcode -c studio.yaml -o out.gcode", f'{QUOTES}: "my vase.gcode"\n'),
        ("run vase.gcode -c the old studio.yaml -o out.gcode", f'{QUOTES}: "the old studio.yaml"\n'),
        ("batch my pots -c studio.yaml -o out", f'{QUOTES}: "my pots"\n'),
        ("run vase.gcode -c studio.yaml -o my out.gcode", f"{QUOTES}\n"),
        ("log add my vase.gcode -c studio.yaml", f'{QUOTES}: "my vase.gcode"\n'),
    ],
)
def test_a_name_with_a_blank_and_no_quotes(
    gpost: Gpost, sliced: Path, config: Path, tmp_path: Path, words: str, hint: str
) -> None:
    """The shell makes two words of it; where the whole name exists, it is shown as it must be typed."""
    for name in ("my vase.gcode", "the old studio.yaml"):
        (tmp_path / name).write_text("")
    (tmp_path / "my pots").mkdir()
    result = gpost(*words.split())
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.endswith(hint)


def test_where_no_name_has_a_blank_nothing_is_said_of_quotes(gpost: Gpost) -> None:
    """Other slips have their own sentence."""
    assert QUOTES not in gpost("run", "none.gcode", "-o", "out.gcode", "--no-config").stderr
