"""What is ready in a folder that is watched: real files, and a clock of the test's own."""

from __future__ import annotations

import gzip
import io
import os
import zipfile
from pathlib import Path

import pytest

from gpost.batch.watched import UNENDED, Look, Watched

SETTLE_S = 2.0
NOTHING = Look((), (), ())
LAID = b"G28\nG1 X10 Y10 Z2 E1 F600\n"


class Desk:
    """A folder with its clock."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.now_s = folder, 100.0
        self.common = [folder.parent / "studio.yaml"]
        self.watched = Watched(folder, lambda: self.common, SETTLE_S)

    def put(self, name: str, content: bytes = LAID) -> Path:
        path = self.folder / name
        path.write_bytes(content)
        return path

    def after(self, seconds: float) -> Look:
        self.now_s += seconds
        return self.watched.look(self.now_s)

    def settled(self) -> tuple[str, ...]:
        """What is ready once nothing has changed for long."""
        return self.after(0).ready + self.after(UNENDED * SETTLE_S).ready


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    (tmp_path / "in").mkdir()
    return Desk(tmp_path / "in")


def test_a_new_file_is_ready_once(desk: Desk) -> None:
    """It is ready when it has stayed as it is for so long, not before, and not again."""
    assert desk.after(0) == NOTHING
    desk.put("vase.gcode")
    assert desk.after(1) == NOTHING
    assert desk.after(SETTLE_S - 0.01) == NOTHING
    assert desk.after(0.01) == Look(("vase.gcode",), (), ())
    assert [desk.after(100) for _ in range(3)] == [NOTHING] * 3


def test_a_file_that_grows_is_waited_for(desk: Desk) -> None:
    """As long as it grows from look to look it is not ready, whether cut in a line or at its end."""
    path = desk.put("vase.gcode", b"")
    desk.after(0)
    for part in (b"G28\n", b"G1 X1", b"0 Y10\n", b"G1 X2 Y2\n"):
        with path.open("ab") as file:
            file.write(part)
        assert desk.after(SETTLE_S * 0.9) == NOTHING
    assert desk.after(SETTLE_S).ready == ("vase.gcode",)


@pytest.mark.parametrize("content", [b"", b"G28\nG1 X1"])
def test_a_file_without_a_last_line_s_end(desk: Desk, content: bytes) -> None:
    """It is told once, and waited for longer; but it may be whole, and then it is done at last."""
    desk.put("vase.gcode", content)
    assert desk.after(0) == NOTHING
    assert desk.after(SETTLE_S) == Look((), (), ("vase.gcode",))
    assert desk.after(SETTLE_S) == NOTHING
    assert desk.after((UNENDED - 2) * SETTLE_S - 0.1) == NOTHING
    assert desk.after(0.1) == Look(("vase.gcode",), (), ())
    assert desk.after(100) == NOTHING


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_any_line_s_end_will_do(desk: Desk, end: bytes) -> None:
    """Files of all systems are whole where their last line is."""
    desk.put("vase.gcode", b"G28" + end)
    desk.after(0)
    assert desk.after(SETTLE_S).ready == ("vase.gcode",)


def test_a_changed_file_is_ready_again(desk: Desk) -> None:
    """By what is in it, by its time alone, and as another file under its name."""
    path = desk.put("vase.gcode")
    assert desk.settled() == ("vase.gcode",)
    desk.put("vase.gcode", LAID + b"G1 X20\n")
    assert desk.settled() == ("vase.gcode",)
    os.utime(path, ns=(1, 1))
    assert desk.settled() == ("vase.gcode",)
    other = desk.put("other.tmp", path.read_bytes())
    os.utime(other, ns=(1, 1))
    other.replace(path)
    assert desk.settled() == ("vase.gcode",)


@pytest.mark.parametrize(
    ("name", "recipe"),
    [("vase.gcode", "vase.yaml"), ("vase.gcode.gz", "vase.yaml"), ("vase.gcode", "vase.yml")],
)
def test_its_own_config_is_part_of_it(desk: Desk, name: str, recipe: str) -> None:
    """A recipe beside a file that comes, changes or goes makes that file ready, and no other."""
    desk.put("bowl.gcode")
    desk.put(name, gzip.compress(LAID) if name.endswith("gz") else LAID)
    assert set(desk.settled()) == {"bowl.gcode", name}
    path = desk.put(recipe, b"steps: [cold]\n")
    assert desk.settled() == (name,)
    path.write_bytes(b"steps: [cold, tally]\n")
    assert desk.settled() == (name,)
    path.unlink()
    assert desk.settled() == (name,)


def test_what_all_are_made_from(desk: Desk) -> None:
    """A common file that comes, changes or goes makes all ready; a further one too."""
    for name in ("bowl.gcode", "vase.gcode"):
        desk.put(name)
    assert len(desk.settled()) == 2
    studio = desk.common[0]
    studio.write_text("steps: [cold]\n")
    assert len(desk.settled()) == 2
    studio.unlink()
    assert len(desk.settled()) == 2
    desk.common.append(desk.folder.parent / "step.py")
    assert len(desk.settled()) == 2
    assert desk.settled() == ()


def test_a_file_that_goes(desk: Desk) -> None:
    """It is told once, whether it was done or not; when it comes again it is new."""
    path = desk.put("vase.gcode")
    desk.after(0)
    path.unlink()
    assert desk.after(1) == Look((), ("vase.gcode",), ())
    desk.put("vase.gcode")
    assert desk.settled() == ("vase.gcode",)
    path.unlink()
    assert [desk.after(1), desk.after(1)] == [Look((), ("vase.gcode",), ()), NOTHING]


def test_what_is_no_piece(desk: Desk) -> None:
    """Hidden files, folders, notes, parts of downloads and zips of other things are none."""
    for name in (".vase.gcode", "vase.gcode.part", "notes.txt", "vase.yaml", "empty.zip"):
        desk.put(name)
    (desk.folder / "shelf.gcode").mkdir()
    assert desk.settled() == ()
    assert desk.after(100) == NOTHING


def test_a_zip_is_seen_when_it_is_whole(desk: Desk) -> None:
    """The list of what is in it stands at its end: half of one is not looked at."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("vase.gcode", LAID * 100)
    desk.put("vase.zip", packed.getvalue()[:-30])
    assert desk.settled() == ()
    desk.put("vase.zip", packed.getvalue())
    assert desk.settled() == ("vase.zip",)


def test_a_folder_that_is_away(desk: Desk) -> None:
    """It raises, and nothing counts as gone; when it is back what was done is not done again."""
    desk.put("vase.gcode")
    assert desk.settled() == ("vase.gcode",)
    away = desk.folder.rename(desk.folder.with_name("away"))
    with pytest.raises(FileNotFoundError):
        desk.after(1)
    away.rename(desk.folder)
    assert desk.after(100) == NOTHING


def test_what_all_share_is_told_from_a_file_s_own(desk: Desk) -> None:
    """After a change of a common config a file is ready as it was before; after one of its own, or of both, anew."""
    desk.put("vase.gcode")
    assert desk.settled() == ("vase.gcode",)
    desk.common[0].write_text("a: 1")
    desk.after(0)
    assert desk.after(SETTLE_S) == Look(("vase.gcode",), (), (), ("vase.gcode",))
    desk.common[0].write_text("a: 22")
    desk.put("vase.gcode", LAID + LAID)
    desk.after(0)
    assert desk.after(SETTLE_S) == Look(("vase.gcode",), (), ())
