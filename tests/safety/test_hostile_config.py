"""A config can neither load code nor take more time and memory than a page of settings is worth."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from gpost.config.model import Config
from gpost.config.settings import LEAST, MOST
from gpost.errors import ConfigError, GpostError
from gpost.pipeline import run_file
from gpost.steps.manager import build_manager
from gpost.steps.recipe import make_recipe
from tests.config_files import by_line, load_files

MORE_MEMORY = 256 << 20
MOST_MEMORY_MB = 250


def bomb(levels: int, width: int) -> str:
    """Anchors that repeat one another: width ** levels values."""
    lines = ["a0: &a0 [x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * width)}]" for n in range(1, levels)]
    return "\n".join(lines)


BOMBS = {
    "anchors": bomb(9, 9),
    "anchors in tables": "a: &a {x: 1}\n" + "".join(f"b{n}: {{<<: *a, y: *a}}\n" for n in range(20_000)),
    "anchor in itself": "a: &a [*a]",
    "deep lists": "a: " + "[" * 100_000,
    "deep lists, closed": "a: " + "[" * 100_000 + "]" * 100_000,
    "deep tables": "a: " + "{b: " * 100_000 + "}" * 100_000,
    "deep by indentation": "".join(f"{' ' * n}k:\n" for n in range(1_000)),
    "deep dashes": "a:\n  " + "- " * 50_000 + "x",
    "keys of keys": "? " * 50_000,
    "many keys": "".join(f"k{n}: 1\n" for n in range(90_000)),
    "many steps": "steps: [" + "tally, " * 9_000 + "]",
    "one long text": "a: " + "x" * 1_000_000,
    "one long quoted text": 'a: "' + "\\x41" * 100_000 + '"',
    "one long key": "? " + "k" * 1_000_000 + "\n: 1",
    "one long number": "machine: {ceiling_mm: " + "9" * 1_000_000 + "}",
    "long numbers": "machine: {ceiling_mm: 1e" + "9" * 900_000 + "}",
    "comments": "# a comment\n" * 80_000,
    "blank lines": "\n" * 400_000,
    "tabs": "\t" * 1_000_000,
    "quotes": "'" * 1_000_000,
    "a block text": "a: |\n" + "  x\n" * 100_000,
    "many documents": "---\n" * 250_000,
    "many tags": "%TAG ! tag:x,2000:\n" * 50_000,
    "more than a config": "# x\n" * 300_000,
    "a lot of nothing": "\0" * 1_000_000,
}


@pytest.mark.parametrize("text", BOMBS.values(), ids=BOMBS)
def test_no_config_takes_much(forker, shelf, bowl, text) -> None:
    """However it is blown up, a config is read or refused within a bounded memory, with few words."""
    (shelf / "pot.gcode").write_bytes(bowl.source)
    (shelf / "bomb.yaml").write_text(text)
    ended = forker.do(shelf, "survey", "pot.gcode", "-c", "bomb.yaml", memory_bytes=MORE_MEMORY)
    assert ended.status in (0, 2), ended.err[:500]
    assert ended.memory_mb < MOST_MEMORY_MB
    assert len(ended.err) < 60_000
    assert "fault of gpost" not in ended.err
    assert "memory" not in ended.err


CODE = [
    "!!python/object/apply:os.system ['touch hacked']",
    "!!python/object/new:os.system ['touch hacked']",
    "!!python/name:os.system",
    "!!python/module:evil",
    "!<tag:yaml.org,2002:python/object/apply:os.system> ['touch hacked']",
    "!evil {}",
    "steps: [evil]",
    "steps: [evil.py]",
    "steps: [./evil]",
    "steps: [../shelf/evil.py]",
    "steps: [{'evil:gpost_steps': {}}]",
    "steps: [{evil: {path: evil.py}}]",
    "steps: [{tally: {module: evil}}]",
    "steps: [!!python/name:evil.Step]",
    "steps_from: .",
    "steps_from: [.]",
    "plugins: [evil]",
    "include: evil.py",
    "<<: !!python/module:evil",
]


def evil(folder: Path, name: str = "evil.py") -> None:
    """A file of Python that leaves a mark if it is ever run."""
    (folder / name).write_text("import pathlib\npathlib.Path(__file__).with_name('hacked').touch()\n")


@pytest.mark.parametrize("text", CODE)
def test_a_config_cannot_load_code(forker, shelf, bowl, text) -> None:
    """A recipe that names code, by a tag, a path or a module, is refused, and the code is not run."""
    bowl.put(shelf)
    evil(shelf)
    (shelf / "other.yaml").write_text(text)
    ended = forker.do(shelf, "run", "pot.gcode", "-c", "recipe.yaml", "-c", "other.yaml", "-o", "out.gcode")
    assert ended.status == 2
    assert "other.yaml:1: " in by_line(ended.err)
    assert {path.name for path in shelf.iterdir()} == {"pot.gcode", "recipe.yaml", "other.yaml", "evil.py"}


SHADOWS = (
    "yaml.py",
    "pickle.py",
    "numpy.py",
    "gpost_plugins.py",
    "tally.py",
    "sitecustomize.py",
    "conftest.py",
)
"""Names of modules that gpost, Python or a step may look for."""


@pytest.fixture
def program(tmp_path: Path) -> Path:
    """gpost as it is installed: a script in a folder of its own."""
    path = tmp_path / "bin" / "gpost"
    path.parent.mkdir()
    path.write_text(
        f"#!{sys.executable}\nfrom gpost.cli import main\nif __name__ == '__main__':\n    main()\n"
    )
    path.chmod(0o755)
    return path


@pytest.mark.parametrize(
    "args",
    [
        ("run", "pot.gcode", "-c", "recipe.yaml", "-o", "out.gcode"),
        ("batch", ".", "-c", "recipe.yaml", "-o", "out", "--jobs", "2"),
    ],
    ids=lambda args: args[0],
)
def test_the_folder_one_is_in_holds_no_code(program, shelf, bowl, args) -> None:
    """Python files in the present folder, beside the source and the config, are not run; nor by a batch's processes."""
    bowl.put(shelf)
    (shelf / "second.gcode").write_bytes(bowl.source)
    for name in SHADOWS:
        evil(shelf, name)
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONSAFEPATH"}
    done = subprocess.run(
        [program, *args], cwd=shelf, env=environment, capture_output=True, timeout=120, check=False
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert not (shelf / "hacked").exists()


def test_a_folder_of_steps_is_only_loaded_when_named(forker, shelf, bowl) -> None:
    """A folder of steps is loaded if the command line names it, with a config that uses none of them too."""
    bowl.put(shelf)
    (shelf / "steps").mkdir()
    evil(shelf / "steps")
    run = ("run", "pot.gcode", "-c", "recipe.yaml", "-o", "out.gcode")
    assert forker.do(shelf, *run).status == 0
    assert not (shelf / "steps" / "hacked").exists()
    forker.do(shelf, *run, "--overwrite", "--steps-from", "steps")
    assert (shelf / "steps" / "hacked").exists()


SLOW = [
    r"(a+)+$",
    r"(a|a)*b$",
    r"(a|aa)+$",
    r"(.*a){30}",
    r"^(([a-z])+.)+[A-Z]([a-z])+$",
    r"(x+x+)+y",
    r"(.*)(.*)(.*)(.*)z",
]
"""Patterns that take time without end where a matcher goes back over what it has tried."""


@pytest.mark.parametrize("pattern", SLOW)
def test_no_pattern_is_slow(tmp_path, bowl, pattern) -> None:
    """A pattern for layer comments takes a time that grows with the file alone, whatever it is."""
    line = b";" + b"a" * 5_000 + b"x" * 5_000 + b"!\n"
    (tmp_path / "pot.gcode").write_bytes(line * 20 + bowl.source)
    made = make_recipe(load_files({"c.yaml": f"layers: {{comment_pattern: '{pattern}'}}"}))
    try:
        summary = run_file(tmp_path / "pot.gcode", tmp_path / "out", made.config, made.steps)
    except GpostError:
        return
    assert summary.layers >= 0


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ("(", "this is no pattern"),
        ("[a", "this is no pattern"),
        (r"(a)\1", "this is no pattern"),
        ("(?=a)", "this is no pattern"),
        ("a{5000}", "this is no pattern"),
        ("", "fits every line"),
        (".*", "fits every line"),
        ("^", "fits every line"),
    ],
)
def test_a_pattern_that_is_none_is_told(pattern, said) -> None:
    """A pattern that can't be used, or says nothing, is told with its line."""
    with pytest.raises(ConfigError, match=f"c.yaml:1:[0-9]+: layers.comment_pattern: .*{said}"):
        load_files({"c.yaml": f"layers: {{comment_pattern: '{pattern}'}}"})


NUMBERS = ["1e300", "1e-300", f"{MOST:.0f}", f"{LEAST:f}"]


def number_keys() -> list[str]:
    """Every setting that is a number, as YAML with `?` for it: of the config and of all stock steps."""
    found = []
    for section in ("machine", "clay", "cartridge"):
        for name, field in Config.model_fields[section].annotation.model_fields.items():
            if "float" in str(field.annotation) or "int" in str(field.annotation):
                found.append(f"{section}: {{{name}: ?}}")
    for name, kind in sorted(build_manager().load_all().items()):
        for key, field in kind.Settings.model_fields.items():
            if "float" in str(field.annotation) or "int" in str(field.annotation):
                found.append(f"steps: [{{{name}: {{{key}: ?}}}}]")
    found += ["machine: {bed: {x_max_mm: ?}}", "machine: {park: {x_mm: ?}}", "machine: {home: {z_mm: ?}}"]
    found += [f"machine: {{pause: {{{key}: ?}}}}" for key in ("relieve_ml", "lift_mm", "wipe_mm")]
    return [*found, "machine: {air: {full: ?}}", "clay: {metering: {unit: filament, diameter_mm: ?}}"]


@pytest.mark.parametrize("key", number_keys())
def test_numbers_that_nobody_means(tmp_path, bowl, key) -> None:
    """Whatever number stands at a key, the job is done or refused with a sentence, and is soon over."""
    (tmp_path / "pot.gcode").write_bytes(bowl.source)
    for number in NUMBERS:
        try:
            made = make_recipe(load_files({"r": bowl.recipe, "c": key.replace("?", number)}))
            run_file(tmp_path / "pot.gcode", tmp_path / "out", made.config, made.steps, overwrite=True)
        except GpostError as error:
            assert "fault" not in str(error), number


@pytest.mark.parametrize("number", [LEAST, MOST, 0.9 * LEAST, 1.1 * MOST])
def test_sizes_that_can_be_meant(number) -> None:
    """A number that must be above 0 is taken from LEAST to MOST."""
    files = {"c.yaml": f"machine: {{travel_feed_mm_min: {number!r}}}"}
    if LEAST <= number <= MOST:
        assert load_files(files).config.machine.travel_feed_mm_min == number
    else:
        with pytest.raises(ConfigError, match="can't be meant"):
            load_files(files)
