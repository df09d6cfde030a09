"""Outputs whose sliced file is gone: they stay, and might be printed for what is there now."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from gpost.batch.record import SUFFIX, read_record
from gpost.common.plain import restored, shown


def gone_text(name: str, output_folder: Path) -> str:
    """That a sliced file is gone, and what became of its output."""
    return f"{shown(name)} is gone; what was made of it stays in {shown(output_folder)}"


def gone_from(folder: Path, output_folder: Path) -> Iterator[str]:
    """Names of the outputs, in their order, that were made of files of this folder which aren't there now."""
    home = folder.resolve()
    for path in sorted(output_folder.glob(f"*{SUFFIX}")):
        output = path.with_name(path.name.removesuffix(SUFFIX))
        if (folder / output.name).exists() or not output.exists():
            continue
        made = read_record(output)
        if made is None or made.origin is None:
            continue
        source = Path(restored(made.origin.folder)) / restored(made.origin.source.path)
        if source.parent.resolve() == home:
            yield output.name
