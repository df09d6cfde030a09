"""What is printed fits the terminal: every command at several widths, none of its words lost; files and pipes as ever."""

from __future__ import annotations

import os
import pty
import re
import select
import shutil
import struct
import subprocess
import sys
from collections import Counter
from fcntl import ioctl
from itertools import pairwise
from pathlib import Path
from termios import TIOCSWINSZ

import pytest
import yaml
from click.testing import CliRunner

from gpost.cli import COMMANDS, cli, terminal, watch
from gpost.cli.progress import bar_letters
from gpost.common.columns import READABLE
from gpost.common.layout import breadth
from gpost.demo.folder import make_demo
from gpost.guide.pages import PAGES
from gpost.workbook.first.questions import QUESTIONS
from gpost.workbook.first.words import question_text

PATIENCE_S = 120
"""A program that says nothing for so long is ended."""
WIDTHS = (40, 60, 80, 120, 200)
PROGRAM = Path(sys.executable).with_name("gpost")
CONFIG = ("-c", "shown/studio.yaml")
VASE = ("shown/twisted-bottle.gcode", *CONFIG, "-c", "shown/two-colours.yaml")
NAME = f"a-bottle-{'with-a-long-name-' * 5}that-goes-on"
PRINTS: dict[str, tuple[str, ...]] = {
    "survey": ("survey", "shown/twisted-bottle.gcode", *CONFIG),
    "survey-all": ("survey", "shown/twisted-bottle.gcode", "--all", *CONFIG),
    "check": ("check", "demo/twisted-bottle.gcode", *CONFIG),
    "check-fine": ("check", *VASE),
    "run": ("run", *VASE, "-o", "out.gcode", "--overwrite"),
    "run-long": ("run", *VASE, "-o", "out.gcode", "--overwrite", "--long"),
    "run-summary": ("run", *VASE, "-o", "out.gcode", "--overwrite", "--summary", "-"),
    "run-demo": ("run", "demo/twisted-bottle.gcode", "-c", "demo/recipe.yaml", "-o", "out.gcode", "--overwrite", "--long"),
    "run-quiet": ("run", "demo/twisted-bottle.gcode", *CONFIG, "-o", "out.gcode", "--overwrite", "-q"),
    "rehearsal": ("run", *VASE, "-o", "rehearsal.gcode", "--overwrite", "--rehearse", "40"),
    "demo": ("demo", "again", "--overwrite"),
    "batch": ("batch", "in", *CONFIG, "-o", "batched", "-j", "1"),
    "day": ("day", "in", *CONFIG),
    "day-class": ("day", "class", "-c", "class-folder/studio.yaml", "-c", "class-folder/class-folder.yaml", "--start", "9:00"),
    "load": ("load", *VASE),
    "load-bands": ("load", "shown/twisted-bottle.gcode", *CONFIG, "--bands", "bands.yaml"),
    "stain": ("stain", "--wet-g", "1000", "--water-percent", "25", "--add", "cobalt=1.5"),
    "ladder": ("stain", "--wet-g", "300", "--water-percent", "25", "--add", "cobalt=1.5", "--add", "rutile=2", "--ladder", "5"),
    "weighings": ("calibrate", *CONFIG, "--weighing", "1000=4.4", "--weighing", "2000=8.9", "--weighing", "3000=13.3", "--weighing", "4000=17.9"),
    "morning": ("calibrate", *CONFIG, "--morning", "4000=18.9", "--morning", "3000=14.2"),
    "measure": ("calibrate", "--measure", "50=93", "--measure", "50=92.6", "--measure", "50=93.1"),
    "strip": ("calibrate", *CONFIG, "--strip", "strip.gcode", "--overwrite"),
    "colour": ("calibrate", *CONFIG, "--colour", "70=150", "--colour", "72=155", "--colour", "71=152"),
    "tube": ("calibrate", *CONFIG, "--tube", "tube.gcode", "--overwrite"),
    "folded": ("calibrate", *CONFIG, "--tube-folded", "140@14:00@foot", "--tube-folded", "150@45:00@foot", "--tube-folded", "141@14:20@foot"),
    "slump": ("calibrate", *CONFIG, "--slump", "100=20", "--slump", "100=21"),
    "cone": ("calibrate", "--cone", "8", "--cone", "8.2"),
    "dried": ("calibrate", "--dried", "100=76", "--dried", "100=76.2", "--dried", "100=75.9", "--dry-density", "2.6"),
    "slip": ("calibrate", "--density", "1.75", "--dry-density", "2.6"),
    "shrank": ("calibrate", "--shrank", "100=94=87", "--shrank", "100=94.1=87.1", "--shrank", "100=93.9=87"),
    "log-add": ("log", "add", "shown/summary.json", *CONFIG, "--grams", "500", "--log", "other.sqlite"),
    "log-show": ("log", "show"),
    "log-fit": ("log", "fit", *CONFIG),
    "log-drop": ("log", "drop", "1", "--log", "dropping.sqlite"),
    "steps": ("steps",),
    "explain": ("explain",),
    "explain-step": ("explain", "swap"),
    "explain-several": ("explain", "spread_percent"),
    "explain-key": ("explain", "machine"),
    "explain-steps": ("explain", "steps"),
    "guide": ("guide",),
    **{f"guide-{page}": ("guide", page) for page in PAGES},
    "resume": ("resume", "job.json", "-o", "rest.gcode", "--from-layer", "20", "--overwrite", "--long"),
    "init": ("init", "own.yaml", "--bed", "280 280", "--pause", "M0", "--display", "M117", "--overwrite"),
}  # fmt: skip
"""Every command that prints, by what the case is called."""
COMMANDS_OF_LOG = ("add", "drop", "fit", "show")
HEADS = {"cartr", "warn", "no", "x", "soft"}
"""Of columns: where there is no room for them each value has a whole word beside it."""


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with demo pieces and their configs, folders of pieces, bands, a job that can be resumed, a log."""
    folder = tmp_path_factory.mktemp("studio")
    make_demo(folder / "demo")
    make_demo(folder / "shown", recipe="two-colours")
    make_demo(folder / "class-folder", recipe="class-folder")
    for name in ("in", "class"):
        (folder / name).mkdir()
    shutil.copy(folder / "shown/twisted-bottle.gcode", folder / "in/vase.gcode")
    shutil.copy(folder / "shown/twisted-bottle.gcode", folder / f"in/{NAME}.gcode")
    (folder / "in/broken.gcode").write_text("G1 X1..2\n")
    for name in ("bowl", f"{NAME} of two words"):
        shutil.copy(folder / "class-folder/small-bowl-1.gcode", folder / f"class/{name}.gcode")
    (folder / "bands.yaml").write_text(
        "bands:\n- {clay: white, to_mm: 40}\n- {clay: blue, to_mm: 90}\n- {clay: red}\n"
    )
    at(folder, "run", *VASE, "-o", "job.gcode", "--json", "job.json")
    for log in ("gpost-log.sqlite", "dropping.sqlite"):
        for grams, note in ((500, ""), (505, "slow-drying, and cracked at its foot " * 6), (498, "softer")):
            at(folder, "log", "add", "job.json", *CONFIG, "--grams", str(grams), "--minutes", str(grams // 5), "--note", note, "--log", log)
    return folder


def at(folder: Path, *args: str, columns: int | None = None) -> str:
    """What a command prints in that folder; to a terminal of so many columns, or to a pipe."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        if columns is not None:
            patch.setattr(terminal, "is_terminal", lambda stream: True)
        result = CliRunner().invoke(cli, args, env={"COLUMNS": None if columns is None else str(columns)})
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result.output


def words(text: str) -> Counter[str]:
    """All words and numbers, without the signs around them."""
    return Counter(filter(None, (word.strip(".,;:()`\"'[]#=-") for word in text.split())))


def printed(studio: Path, name: str, columns: int | None) -> str:
    """What a case prints; what it adds to is made anew."""
    shutil.rmtree(studio / "batched", ignore_errors=True)
    (studio / "other.sqlite").unlink(missing_ok=True)
    shutil.copy(studio / "gpost-log.sqlite", studio / "dropping.sqlite")
    return at(studio, *PRINTS[name], columns=columns)


def kept(line: str, *, page: bool) -> bool:
    """Whether a line may be wider: one long word behind its margin or mark, or an example that is to be copied."""
    return len(re.sub(r"^ *([-*\d.]+ )?(file: |piece: |--[a-z]+ )?", "", line).split()) <= 1 or (page and line.startswith("    "))


@pytest.mark.parametrize("name", PRINTS)
def test_all_that_is_printed_fits_the_terminal(studio: Path, name: str) -> None:
    """No line is wider but for one long word, and each word and number of a wide terminal stands on a narrow one."""
    said = {columns: printed(studio, name, columns) for columns in WIDTHS}
    for columns, text in said.items():
        for line in text.splitlines():
            assert breadth(line) <= columns or kept(line, page=name.startswith(("guide-", "explain-step"))), line
        assert "\x1b" not in text
    for columns in WIDTHS:
        assert not set(words(said[200]) - words(said[columns])) - HEADS, columns


@pytest.mark.parametrize("columns", [40, 57, 80])
@pytest.mark.parametrize("name", ["check-fine", "run-long", "run-demo", "load-bands", "ladder", "resume", "day-class", "steps", "explain"])
def test_a_list_goes_on_below_its_text(studio: Path, name: str, columns: int) -> None:
    """An entry's other lines stand neither left nor right of its first word."""
    assert_hung(printed(studio, name, columns))


@pytest.mark.parametrize("columns", [40, 57, 80])
def test_the_questions_go_on_below_their_text(columns: int) -> None:
    """Those with two digits, too."""
    told = "".join(question_text(number, question, columns) for number, question in enumerate(QUESTIONS, 1))
    assert "\n10. " in told
    assert_hung(told)


def assert_hung(text: str) -> None:
    """Each line further in than the mark or the name before it stands where what is said begins."""
    marks = 0
    for line, following in pairwise(text.splitlines()):
        mark = re.match(r"( *)(\d+[.:] |- |\[ \] |\d+:\d\d  +|[a-z]+ {2,})(?=[^ ])", line)
        inside = len(following) - len(following.lstrip())
        if mark and following.strip() and inside > len(mark[1]) and not re.match(r" *(-|\d+[.:]) ", following):
            assert inside == mark.end(), (line, following)
            marks += 1
    assert marks


@pytest.mark.parametrize("columns", [40, 57, 80])
def test_tables_in_tables_are_further_in_at_any_width(studio: Path, columns: int) -> None:
    """No key has the column of what is said of it."""
    said = {width: at(studio, "explain", "machine", columns=width).splitlines() for width in (columns, 200)}
    depths = [{len(line) - len(line.lstrip()) for line in lines if line} for lines in said.values()]
    assert len(depths[0]) == len(depths[1]) > 3


@pytest.mark.parametrize("name", ["batch", "day", "day-class", "log-show", "guide-python", "guide-own-step", "explain", "run-long"])
def test_a_wide_terminal_is_used(studio: Path, name: str) -> None:
    """Where there are long texts: for tables up to 200 columns, for reading up to 100."""
    said = {columns: max(map(breadth, printed(studio, name, columns).splitlines())) for columns in (120, 200)}
    assert said[200] > 80
    if name in ("explain", "run-long"):
        assert said[200] <= READABLE
    else:
        assert said[120] > 80


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("day-class", ["cartridges: ", "clay, ml: ", "first_ml: "]),
        ("batch", ["layers: ", "clay, ml: ", "time, h:mm: ", "pauses: ", "warnings: "]),
        ("log-show", ["number: ", "predicted, g: ", "weighed, g: ", "mass ratio: ", "predicted, min: ", "took, min: ", "time ratio: ", "softness: "]),
        ("survey", ["height, mm: ", "clay, ml: ", "path, m: ", "time, s: ", "feed, mm/min: ", "begins at line: "]),
    ],
)
def test_a_value_that_stands_alone_is_said_by_a_whole_name(studio: Path, name: str, said: list[str]) -> None:
    """With its unit, where the heading of its column would be too short to tell."""
    found = printed(studio, name, 40)
    assert [each for each in said if found.count(each) < 2] == []


def test_no_two_columns_are_headed_alike(studio: Path) -> None:
    """In a file as on a terminal."""
    for columns in (None, 80, 200):
        head = printed(studio, "log-show", columns).splitlines()[0].replace("x ", "x").split()
        assert len(head) == len(set(head)) == 10


def test_names_are_whole_on_a_terminal_and_short_in_a_file(studio: Path) -> None:
    """A file's table keeps its columns where they were, and both ends of a long name; a terminal has all of it."""
    assert "a-bottle-with-a-long-n...es-on.gcode done          93     277   0:19      0    1" in printed(studio, "batch", None)
    assert "a-bottle-with-a-l...oes-on.gcode       1    277       615   " in printed(studio, "day", None)
    for columns in WIDTHS:
        for name in ("batch", "day"):
            table = printed(studio, name, columns).partition("file" if name == "batch" else "Pieces, in")[2]
            assert f"{NAME}.gcode" in table
            assert "..." not in table


@pytest.mark.parametrize("name", ["morning", "folded", "dried", "shrank", "log-fit", "measure"])
def test_lines_for_the_config_can_be_copied_at_any_width(studio: Path, name: str) -> None:
    """As YAML they say the same where they are broken."""
    found = [yaml.safe_load(printed(studio, name, columns).rpartition("\n\n")[2]) for columns in (None, *WIDTHS)]
    assert isinstance(found[0], dict)
    assert all(each == found[0] for each in found)


def test_a_file_is_the_same_on_any_terminal(studio: Path) -> None:
    """What a command writes into files doesn't hang on the terminal."""
    for columns in (None, 40, 200):
        at(studio, "run", *VASE, "-o", "out.gcode", "--overwrite", "--summary", f"{columns}.txt", columns=columns)
        at(studio, "day", "class", "-c", "class-folder/studio.yaml", "-o", f"day-{columns}", columns=columns)
    assert (studio / "40.txt").read_bytes() == (studio / "None.txt").read_bytes() == (studio / "200.txt").read_bytes()
    sheets = [(studio / f"day-{columns}/day.txt").read_bytes() for columns in (None, 40, 200)]
    assert sheets[0] == sheets[1] == sheets[2]


@pytest.mark.parametrize("command", [(), *((name,) for name in COMMANDS), *(("log", part) for part in ("add", "drop", "show", "fit"))], ids=" ".join)
def test_help_fits_the_terminal(command: tuple[str, ...], tmp_path: Path) -> None:
    """As all else, and no wider than can be read."""
    for columns in WIDTHS:
        for line in at(tmp_path, *command, "--help", columns=columns).splitlines():
            assert len(line.rstrip()) <= min(columns, READABLE) or kept(line, page=False), line


@pytest.mark.parametrize("command", ["run", "check", "resume", "batch", "watch", "load", "stain", "day"])
def test_help_keeps_commands_whole(command: str, tmp_path: Path) -> None:
    """What is quoted stands on one line, but for what is longer than the half that options leave."""
    for columns in (None, *WIDTHS):
        told, room = at(tmp_path, command, "--help", columns=columns), (columns or 80) // 2 - 4
        quoted = re.findall(r"[^\s`]*`[^`]+`[^\s`]*", told)
        assert quoted
        assert "\u00a0" not in told
        for text in quoted:
            assert "\n" not in text or len(" ".join(text.split())) > room, text


def test_what_is_wrong_fits_the_terminal(tmp_path: Path) -> None:
    """A sentence is broken at its blanks; the place in the file, and the mark under it, stay as they are."""
    (tmp_path / "vase.gcode").write_text("G1 X1\n")
    (tmp_path / "slip.yaml").write_text("steps:\n- swap: {at_heigth_mm: 120, colour: blue, show: half}\n")
    told = at(tmp_path, "check", "vase.gcode", "-c", "slip.yaml", columns=40)
    assert "\n    - swap: {at_heigth_mm: 120, colour: blue, show: half}\n             ^\n" in told
    usage = at(tmp_path, "survey", "vase.gcode", "-c", "nothing.yaml", columns=40)
    for line in [*told.splitlines(), *usage.splitlines()]:
        assert len(line.rstrip()) <= 40 or line.startswith("    "), line
    assert at(tmp_path, "check", "vase.gcode", "-c", "slip.yaml").count("\n") < told.count("\n")


def test_the_questions_fit_the_terminal(tmp_path: Path) -> None:
    """As do the words around them."""
    for columns in WIDTHS:
        for line in at(tmp_path, "init", f"{columns}.yaml", columns=columns).splitlines():
            assert len(line) <= min(columns, READABLE), line


def test_watching_fits_the_terminal(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The time stands before its first line; in a file each word is a line."""
    text = f"{'it can’t be done, since the slab is dry; ' * 3}\n    - an example\n      ^"
    watch.say(text)
    assert re.match(rf"\d\d:\d\d  {re.escape(text)}\n$", capsys.readouterr().out)
    monkeypatch.setenv("COLUMNS", "40")
    watch.say(text)
    first, *lines, excerpt, mark = capsys.readouterr().out.splitlines()
    assert len(lines) > 2
    assert re.match(r"\d\d:\d\d  it ", first)
    assert all(line.startswith(" " * 7) and len(line) <= 40 for line in lines)
    assert (excerpt[7:], mark[7:]) == ("    - an example", "      ^")


def on_terminal(*command: str, columns: int, folder: Path, variables: dict[str, str] | None = None, err_to: Path | None = None, until: str = "") -> str:
    """What a program prints on a terminal of so many columns; standard error may go to a file.

    `until`: it is told to end when it has said that.
    """
    ours, theirs = pty.openpty()
    ioctl(theirs, TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    env = {name: value for name, value in os.environ.items() if name != "COLUMNS"} | (variables or {})
    with open(os.devnull if err_to is None else err_to, "wb") as file:
        err = theirs if err_to is None else file.fileno()
        done = subprocess.Popen([PROGRAM, *command], cwd=folder, env=env, stdin=theirs, stdout=theirs, stderr=err)
        os.close(theirs)
        found = bytearray()
        try:
            while chunk := os.read(ours, 65536) if select.select([ours], [], [], PATIENCE_S)[0] else done.kill():
                found += chunk
                if until and until in found.decode(errors="replace"):
                    done.terminate()  # Ctrl-C is not heard where the tests run in the background
                    until = ""
        except OSError:  # the last one who had it open has ended
            pass
    os.close(ours)
    done.wait()
    return found.decode().replace("\r\n", "\n")


@pytest.mark.parametrize("columns", [20, 40, 64, 200, 300])
def test_the_terminal_itself_is_asked(studio: Path, columns: int) -> None:
    """Without COLUMNS, from 40 to 200; it gets no colour, with NO_COLOR or without."""
    survey = ("survey", "shown/twisted-bottle.gcode", *CONFIG)
    found = on_terminal(*survey, columns=columns, folder=studio)
    assert found == printed(studio, "survey", min(max(columns, 40), 200))
    assert found == on_terminal(*survey, columns=columns, folder=studio, variables={"NO_COLOR": "1"})
    batch = ("batch", "in", *CONFIG, "-o", f"batched-{columns}", "-j", "1")
    coloured = on_terminal(*batch, columns=columns, folder=studio, variables={"NO_COLOR": "1"})
    assert not re.search(r"\x1b\[[\d;]*m", coloured)


@pytest.mark.parametrize("columns", [40, 80, 200])
def test_watch_fits_the_terminal_itself(studio: Path, columns: int) -> None:
    """Warnings, what is done and what isn't, each behind its time once; the long name alone is wider."""
    found = on_terminal("watch", "in", *CONFIG, "-o", f"watched-{columns}", columns=columns, folder=studio, until="broken.gcode")
    lines = found.partition("Error: ")[0].splitlines()
    assert "vase.gcode: done, 93 layers" in found
    begun = [line for line in lines if re.match(r"\d\d:\d\d  [^ ]", line)]
    for line in lines:
        assert line in begun or line.startswith(" " * 9)
        assert len(line) <= columns or line[7:].lstrip().startswith(NAME), line
    assert sum("vase.gcode: " in line for line in lines) > 1  # what both are warned of, and that it is done
    assert columns == 200 or len(begun) < len(lines)


def test_a_terminal_that_does_not_say_has_eighty(studio: Path) -> None:
    """As one has that is opened by a program."""
    assert on_terminal("guide", "safety", columns=0, folder=studio) == printed(studio, "guide-safety", 80)


def test_each_stream_has_its_own_width(studio: Path, tmp_path: Path) -> None:
    """Output on a terminal and errors in a file, or the other way round: the file's lines are as ever."""
    whole = at(studio, "survey", "shown/twisted-bottle.gcode").splitlines()[0]
    assert whole.startswith("No config was named")
    on_terminal("survey", "shown/twisted-bottle.gcode", columns=40, folder=studio, err_to=tmp_path / "err")
    assert (tmp_path / "err").read_text("utf-8") == f"{whole}\n"


def test_columns_count_for_an_output_that_is_no_terminal(studio: Path) -> None:
    """As for tables of old; what is said on standard error stays in whole lines there, which programs look through."""
    whole = CliRunner().invoke(cli, ["survey", str(studio / "shown/twisted-bottle.gcode")])
    narrow = CliRunner().invoke(cli, ["survey", str(studio / "shown/twisted-bottle.gcode")], env={"COLUMNS": "40"})
    assert narrow.stderr == whole.stderr
    assert len(narrow.stdout.splitlines()) > 2 * len(whole.stdout.splitlines())
    for nonsense in ("", "0", "-5", "wide", "²", "0" * 5000):
        same = CliRunner().invoke(cli, ["survey", str(studio / "shown/twisted-bottle.gcode")], env={"COLUMNS": nonsense})
        assert same.output == whole.output


@pytest.mark.parametrize(("columns", "used"), [("9" * 5000, 200), ("0" * 5000 + "60", 60), ("1000000", 200), ("٦٠", 60)])
def test_a_width_of_many_digits_is_a_width(monkeypatch: pytest.MonkeyPatch, columns: str, used: int) -> None:
    """It is as wide as the widest; noughts before it count for nothing."""
    monkeypatch.setenv("COLUMNS", columns)
    assert terminal.width() == used


def test_a_bar_fits_a_narrow_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """With its label, the percent and the time that is left."""
    monkeypatch.setattr(terminal, "is_terminal", lambda stream: True)
    for columns, letters in ((40, 10), (60, 30), (80, 36), (200, 36)):
        monkeypatch.setenv("COLUMNS", str(columns))
        assert bar_letters() == letters


@pytest.mark.parametrize("command", ["stain", "batch", "calibrate"])
def test_help_says_the_limits_that_there_are(tmp_path: Path, command: str) -> None:
    """And no others."""
    told = " ".join(at(tmp_path, command, "--help").split())
    assert "None" not in told
    assert ("[x>" in told or "<=x" in told) is (command != "stain")


@pytest.mark.parametrize("columns", [None, *WIDTHS])
def test_a_list_of_commands_has_whole_sentences(tmp_path: Path, columns: int | None) -> None:
    """Of each that there is, in a group's help as in that of all."""
    for words_typed, group in ((("log",), COMMANDS_OF_LOG), ((), COMMANDS)):
        listed = at(tmp_path, *words_typed, "--help", columns=columns).partition("Commands:\n")[2]
        assert "..." not in listed
        assert [line.split()[0] for line in listed.splitlines() if re.match("  [a-z]", line)] == list(group)
        assert len(re.findall(r"\.(?:\n  [a-z]|\n$)", listed)) == len(group)
