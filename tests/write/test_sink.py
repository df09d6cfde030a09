"""The output file is complete under its name, or not there at all."""

from __future__ import annotations

import contextlib
import errno
import os
import signal
import stat
import sys
import threading
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO, cast

import pytest

from gpost.errors import OutputError
from gpost.write import sink
from gpost.write.inputs import Input, reading
from gpost.write.sink import AtomicFile, check_target, to_disk, work_folder


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def write(path: Path, content: bytes, *, overwrite: bool = False, then: Callable[[], object]) -> None:
    with AtomicFile(path, overwrite) as out:
        out.write(content)
        then()


def fail(error: BaseException) -> Callable[[], None]:
    def call() -> None:
        raise error

    return call


def test_file_appears_whole(tmp_path: Path) -> None:
    """What was written in the block is in the file afterwards, and nothing else is in the folder."""
    with AtomicFile(tmp_path / "out.nc") as out:
        out.write(b"G1 X1\n")
        assert names(tmp_path).isdisjoint({"out.nc"}), "the name must not appear before the end"
        assert all(name.startswith(".gpost-") for name in names(tmp_path))
    assert (tmp_path / "out.nc").read_bytes() == b"G1 X1\n"
    assert names(tmp_path) == {"out.nc"}


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt, SystemExit])
def test_any_exception_leaves_nothing(tmp_path: Path, error: type[BaseException]) -> None:
    """Whatever ends the block early passes on, and leaves no file, temporary or other."""
    with pytest.raises(error):
        write(tmp_path / "out.nc", b"half", then=fail(error()))
    assert names(tmp_path) == set()


def test_interrupt_before_the_block_leaves_nothing(tmp_path: Path) -> None:
    """A file that was opened and never reached its block is removed with the object."""
    file = AtomicFile(tmp_path / "out.nc")
    file.__enter__().close()
    del file
    assert names(tmp_path) == set()


def test_existing_file_survives_failure(tmp_path: Path) -> None:
    """An overwrite that fails leaves the old content."""
    path = tmp_path / "out.nc"
    path.write_bytes(b"old")
    with pytest.raises(ValueError, match="stop"):
        write(path, b"new", overwrite=True, then=fail(ValueError("stop")))
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == {"out.nc"}


def test_existing_file_is_refused(tmp_path: Path) -> None:
    """Without overwrite a name that is taken is refused before anything is written."""
    path = tmp_path / "out.nc"
    path.write_bytes(b"old")
    with pytest.raises(OutputError, match=r"out\.nc exists already; .* --overwrite"), AtomicFile(path):
        pytest.fail("the block must not start")
    assert path.read_bytes() == b"old"


@pytest.mark.parametrize("links", [True, False], ids=["links", "no links"])
def test_name_taken_meanwhile_is_not_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    """A file that takes the name while the block runs is kept, on disks without hard links too."""
    if not links:
        monkeypatch.setattr(os, "link", refuse(errno.EPERM))
    path = tmp_path / "out.nc"
    with pytest.raises(OutputError, match="exists already"):
        write(path, b"ours", then=lambda: path.write_bytes(b"theirs"))
    assert path.read_bytes() == b"theirs"
    assert names(tmp_path) == {"out.nc"}


def test_disk_without_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A memory card that knows no hard links gets the file all the same."""
    monkeypatch.setattr(os, "link", refuse(errno.EPERM))
    with AtomicFile(tmp_path / "out.nc") as out:
        out.write(b"whole")
    assert (tmp_path / "out.nc").read_bytes() == b"whole"
    assert names(tmp_path) == {"out.nc"}


def test_permissions_are_the_default(tmp_path: Path) -> None:
    """A new file gets the permissions any new file of this user gets."""
    (tmp_path / "plain").touch()
    with AtomicFile(tmp_path / "out.nc"):
        pass
    assert (tmp_path / "out.nc").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_overwriting_keeps_permissions(tmp_path: Path) -> None:
    """A private file that is overwritten stays private."""
    path = tmp_path / "out.nc"
    path.touch(mode=0o600)
    with AtomicFile(path, overwrite=True) as out:
        out.write(b"new")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert path.read_bytes() == b"new"


def test_link_is_followed(tmp_path: Path) -> None:
    """Writing to a link writes the file it leads to; the link stays a link."""
    (tmp_path / "there").mkdir()
    link = tmp_path / "out.nc"
    link.symlink_to(tmp_path / "there" / "real.nc")
    with AtomicFile(link) as out:
        out.write(b"x")
    assert link.is_symlink()
    assert (tmp_path / "there" / "real.nc").read_bytes() == b"x"


def test_link_that_leads_to_itself(tmp_path: Path) -> None:
    """A link in a circle is refused with a sentence."""
    link = tmp_path / "out.nc"
    link.symlink_to(link)
    with pytest.raises(OutputError, match="link that can't be followed"):
        check_target(link)


def same(source: Path) -> Path:
    return source


def by_symlink(source: Path) -> Path:
    link = source.with_name("soft.nc")
    link.symlink_to(source)
    return link


def by_hard_link(source: Path) -> Path:
    link = source.with_name("hard.nc")
    link.hardlink_to(source)
    return link


def by_detour(source: Path) -> Path:
    return source.parent / ".." / source.parent.name / source.name


@pytest.mark.parametrize("alias", [same, by_symlink, by_hard_link, by_detour])
def test_source_is_not_overwritten(tmp_path: Path, alias: Callable[[Path], Path]) -> None:
    """The sliced file is refused as output under any of its names, unless asked for in place."""
    source = tmp_path / "bowl.nc"
    source.write_bytes(b"G1 X1\n")
    target = alias(source)
    with pytest.raises(OutputError, match=r"is the sliced file itself; .* --in-place"):
        check_target(target, overwrite=True, inputs=reading(source), in_place=False)
    assert check_target(target, inputs=reading(source), in_place=True) == target.resolve()


READ = {
    "bowl.nc": "the sliced file",
    "studio.yaml": "a config",
    "steps/mine.py": "the code of a step",
    "bands.yaml": "the file of the bands",
}


@pytest.mark.parametrize("name", READ)
@pytest.mark.parametrize("alias", [same, by_symlink, by_hard_link, by_detour])
@pytest.mark.parametrize("overwrite", [False, True])
def test_nothing_that_is_read_is_overwritten(
    tmp_path: Path, name: str, alias: Callable[[Path], Path], overwrite: bool
) -> None:
    """Each file that a run reads is refused under any of its names, in words that say what it is."""
    (tmp_path / "steps").mkdir()
    bowl, studio, _, bands = (tmp_path / read for read in READ)
    for read in READ:
        (tmp_path / read).write_bytes(b"#")
    configs = [tmp_path / "gone.yaml", studio]
    others = [Input("the file of the bands", bands)]
    inputs = reading(bowl, configs=configs, folders=[tmp_path / "steps"], others=others)
    with pytest.raises(OutputError, match=f"is {READ[name]} that is read here; choose another name"):
        check_target(alias(tmp_path / name), overwrite=overwrite, inputs=inputs)
    for new in ("new.gcode", "gone.yaml"):
        assert check_target(tmp_path / new, overwrite=overwrite, inputs=inputs) == tmp_path / new


def test_missing_folder(tmp_path: Path) -> None:
    """A folder that doesn't exist is named, with what to do."""
    with pytest.raises(OutputError, match=r"the folder .*away doesn't exist; make it first"):
        check_target(tmp_path / "away" / "out.nc")


def test_folder_that_is_a_file(tmp_path: Path) -> None:
    """A file where a folder should be is named."""
    (tmp_path / "clay").touch()
    with pytest.raises(OutputError, match="clay is not a folder"):
        check_target(tmp_path / "clay" / "out.nc")


def test_output_is_a_folder(tmp_path: Path) -> None:
    """A folder can't be the output, whether or not overwriting is allowed."""
    for overwrite in (False, True):
        with pytest.raises(OutputError, match="is a folder; name a file in it"):
            check_target(tmp_path, overwrite=overwrite)


def test_device_is_never_replaced(tmp_path: Path) -> None:
    """A pipe or device is no place for a file that is put there by renaming."""
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OutputError, match="is not a plain file"):
        check_target(tmp_path / "pipe", overwrite=True)


def refuse(code: int) -> Callable[..., None]:
    def call(*_args: object, **_options: object) -> None:
        raise OSError(code, os.strerror(code))

    return call


def test_read_only_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that may not be written is refused before the work starts."""
    monkeypatch.setattr(os, "access", lambda *_args: False)  # root may write everywhere
    with pytest.raises(OutputError, match="nothing may be written in the folder"):
        check_target(tmp_path / "out.nc")


def test_write_protected_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file the potter has protected is not replaced, even with overwrite."""
    (tmp_path / "out.nc").touch()
    monkeypatch.setattr(os, "access", lambda *_args: False)
    with pytest.raises(OutputError, match="write-protected"):
        check_target(tmp_path / "out.nc", overwrite=True)


FAILURES = [
    (errno.ENOSPC, "no room left to write"),
    (errno.EDQUOT, "no room left to write"),
    (errno.EFBIG, "no room left to write"),
    (errno.EROFS, "nothing may be written in the folder"),
    (errno.EIO, "can't be written: "),
]


@pytest.mark.parametrize(("code", "sentence"), FAILURES)
def test_failing_disk_at_the_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, sentence: str
) -> None:
    """A disk that fails while the file is made to last gives a sentence and leaves nothing."""
    monkeypatch.setattr(sink.os, "fsync", refuse(code))
    with pytest.raises(OutputError, match=sentence), AtomicFile(tmp_path / "out.nc") as out:
        out.write(b"x")
    assert names(tmp_path) == set()


@pytest.mark.parametrize(("code", "sentence"), FAILURES)
def test_failing_disk_meanwhile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, sentence: str
) -> None:
    """A disk that fails while something else is done is told of then: it might tell that only once."""
    answers = [refuse(code)]
    monkeypatch.setattr(sink.os, "fsync", lambda _handle: answers.pop()() if answers else None)
    path = tmp_path / "out.nc"
    with pytest.raises(OutputError, match=sentence), AtomicFile(path) as out, to_disk(out, path):
        out.write(b"x")
    assert names(tmp_path) == set()


def test_the_disk_takes_what_is_written_meanwhile(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is asked while the work goes on; no pipe, no device and no file inside a packed one is."""
    asked = threading.Event()
    monkeypatch.setattr(sink.os, "fsync", lambda _handle: asked.set())
    with open(os.devnull, "wb") as nowhere, to_disk(nowhere, tmp_path):
        pass
    with (
        zipfile.ZipFile(tmp_path / "out.zip", "w") as archive,
        archive.open("out.nc", "w") as inner,
        to_disk(cast("BinaryIO", inner), tmp_path),
    ):
        pass
    assert not asked.is_set()
    with AtomicFile(tmp_path / "out.nc") as out, to_disk(out, tmp_path / "out.nc"):
        assert asked.wait(timeout=60)
    assert (tmp_path / "out.nc").exists()


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT, errno.EFBIG])
def test_full_disk_in_the_middle(tmp_path: Path, code: int) -> None:
    """A disk that fills up while lines are written gives the same sentence and leaves nothing."""
    with pytest.raises(OutputError, match="no room left to write"), AtomicFile(tmp_path / "out.nc"):
        refuse(code)()
    assert names(tmp_path) == set()


def test_other_errors_in_the_block_pass_on(tmp_path: Path) -> None:
    """An error of reading the source is not taken for one of writing the output."""
    with pytest.raises(FileNotFoundError), AtomicFile(tmp_path / "out.nc"):
        raise FileNotFoundError(errno.ENOENT, "the sliced file is gone")
    assert names(tmp_path) == set()


def test_name_too_long(tmp_path: Path) -> None:
    """A name longer than the disk allows is refused with a sentence."""
    with pytest.raises(OutputError, match="too long"):
        check_target(tmp_path / ("x" * 300))


def test_message_shows_control_characters_harmlessly(tmp_path: Path) -> None:
    """A file name can't send escape sequences to the terminal."""
    (tmp_path / "a\x1b[31m").mkdir()
    with pytest.raises(OutputError) as caught:
        check_target(tmp_path / "a\x1b[31m")
    assert "\x1b" not in str(caught.value)
    assert r"a\x1b[31m is a folder" in str(caught.value)


@pytest.mark.parametrize("error", [None, ValueError, KeyboardInterrupt])
def test_work_folder_is_gone_afterwards(tmp_path: Path, error: type[BaseException] | None) -> None:
    """A folder for unfinished files stands beside the others under a hidden name, and goes with all that is in it."""
    with contextlib.suppress(ValueError, KeyboardInterrupt), work_folder(tmp_path) as folder:
        assert folder.parent == tmp_path
        assert folder.name.startswith(".gpost-")
        (folder / "half").write_bytes(b"x")
        if error is not None:
            raise error
    assert names(tmp_path) == set()


def test_signal_while_tidying_up_leaves_nothing(tmp_path: Path) -> None:
    """Ctrl-C that comes while the folder is removed interrupts when it is gone."""

    def strike(_frame: object, event: str, called: object) -> None:
        if event == "c_call" and getattr(called, "__name__", "") == "rmdir":
            sys.setprofile(None)
            os.kill(os.getpid(), signal.SIGINT)

    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with pytest.raises(KeyboardInterrupt), work_folder(tmp_path):
            sys.setprofile(strike)
    finally:
        sys.setprofile(None)
        signal.signal(signal.SIGINT, before)
    assert names(tmp_path) == set()
