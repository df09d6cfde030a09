"""Every command block of README and guide does what stands there: run in the page's order, its output compared.

A page's blocks are run in one folder, one after the other. `given: NAMES` in a comment says what the reader has
when the page begins, `file: NAME` that a block is saved under that name, `fails: STATUS` that it is refused, `picture: NAME` that it draws README's picture. A `text`
block after a command is what it prints; `...` stands there for what may be anything: lines, or a part of one.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from gpost.demo.gcode import class_pieces, slice_piece
from tests.docs.blocks import GUIDE, PAGES, README, ROOT, Block, blocks, given

ELSEWHERE = "command: test"
"""The whole suite: `.ci/run` runs that block, as printed, in a fresh clone."""
INSTALLED = "command: demo"
"""Its last part is run here, with the gpost that is tested; `.ci/run` installs as the part before it does."""


def sliced(name: str) -> Callable[[], bytes]:
    """A piece of the demo as a slicing program would write it."""
    return lambda: slice_piece(*class_pieces()[name])


def config(name: str) -> Callable[[], bytes]:
    """A file of configs/."""
    return lambda: (ROOT / "configs" / name).read_bytes()


PICTURE = GUIDE / "sheet.svg"
"""The one in README: what the block with `picture:` draws."""
GIVEN: Mapping[str, Callable[[], bytes]] = {
    "vase.gcode": sliced("twisted-bottle"),
    "FOLDER/vase.gcode": sliced("twisted-bottle"),
    "FOLDER/bowl.gcode": sliced("small-bowl-1"),
    "studio.yaml": config("studio.yaml"),
    "two-colours.yaml": config("two-colours.yaml"),
    "class-folder.yaml": config("class-folder.yaml"),
}
"""What a page may take for given."""
ANY_LINES, ANY = "(?:.*\n)*", ".*"


def shell(block: Block, place: Path, folder: Path) -> tuple[subprocess.CompletedProcess[str], Path]:
    """A block as somebody types it, with nothing to answer on standard input; and the folder it ends in."""
    text = block.text
    if block.note == INSTALLED:
        text = text.rpartition("&&")[2].replace(".venv/bin/gpost", "gpost")
    ended = place / "ended-in"
    script = f"set -euo pipefail\n{text}\npwd > {shlex.quote(str(ended))}"
    path = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
    done = subprocess.run(
        ["bash", "-c", script],
        cwd=folder,
        env=os.environ | {"PATH": path},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    return done, Path(ended.read_text().strip()) if ended.exists() else folder


def matches(wanted: str, said: str) -> bool:
    """Whether that is what was printed, with anything in the place of `...`."""
    lines = [ANY_LINES if line == "..." else ANY.join(map(re.escape, line.split("..."))) + "\n" for line in wanted.splitlines()]
    pattern = "".join(lines)
    return re.fullmatch(pattern, said if not said or said.endswith("\n") else f"{said}\n") is not None


def test_output_is_compared() -> None:
    """Anything may stand for `...`, and nothing else is let pass."""
    assert matches("a\n...\nd\n", "a\nb\nc\nd\n")
    assert matches("a ... c\n...\n", "a b c\n")
    assert matches("...\n", "")
    assert matches("", "")
    assert not matches("", "a\n")
    assert not matches("a ... c\n", "a b\nc\n")
    assert not matches("a\n...\nd\n", "a\nb\nc\n")
    assert not matches("a.c\n", "abc\n")


def test_the_suite_is_run_as_printed() -> None:
    """The one block that is not run here is run by `.ci/run`."""
    assert [block.note for page in PAGES for block in blocks(page, "sh")].count(ELSEWHERE) == 1
    assert f"<!-- {ELSEWHERE} -->" in (ROOT / ".ci" / "run").read_text()


def test_windows_is_told_the_same() -> None:
    """README's two commands stand there for Windows too: line by line what the others do, by the names that it has."""
    other = {"python3 -m venv": "py -m venv", ".venv/bin/": ".venv\\Scripts\\", "'": '"', " && ": "\n"}
    for note in (INSTALLED, ELSEWHERE):
        (unix,) = (block.text for block in blocks(README, "sh") if block.note == note)
        (windows,) = (block.text for block in blocks(README, "bat") if block.note == note.replace("command", "windows"))
        for here, there in other.items():
            unix = unix.replace(here, there)
        assert windows == unix


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_commands_do_what_stands_there(page: Path, tmp_path: Path) -> None:
    """Each command of the page ends as the page says, and prints what stands below it."""
    folder = tmp_path / "reader"
    folder.mkdir()
    for name in given(page):
        if name != "nothing":
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_bytes(GIVEN[name]())
    said: str | None = None
    for block in blocks(page, "sh", "text", "yaml"):
        if block.kind == "yaml":
            if block.note.startswith("file: "):
                (folder / block.note.removeprefix("file: ")).write_text(block.text)
        elif block.kind == "text":
            assert said is not None, f"{block.where}: output of no command"
            assert matches(block.text, said), f"{block.where}: it prints\n{said}"
            said = None
        elif block.note != ELSEWHERE:
            done, folder = shell(block, tmp_path, folder)
            status = int(block.note.removeprefix("fails: ")) if block.note.startswith("fails: ") else 0
            assert done.returncode == status, f"{block.where}: {done.stdout}"
            if block.note.startswith("picture: "):
                drawn = (folder / block.note.removeprefix("picture: ")).read_text("utf-8")
                assert PICTURE.read_text("utf-8") == drawn, f"copy it over {PICTURE}"
            said = done.stdout


def test_every_page_with_commands_says_what_is_given() -> None:
    """So that a page can be followed from its beginning."""
    for page in PAGES:
        if blocks(page, "sh") and page != README:
            assert given(page), page.name
