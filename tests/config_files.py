"""Configs as people have them: files in a folder, loaded by their names."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from contextlib import chdir
from pathlib import Path
from tempfile import TemporaryDirectory

from gpost.config.load import LoadedConfig, load_config


def load_files(files: Mapping[str, str] | Iterable[tuple[str, str]], *, studio: int = 0) -> LoadedConfig:
    """Load config files by name and text, as from the folder that they are in: a later one overrides an earlier one.

    `studio`: how many of the first are named by `--studio`. Raises ConfigError as `load_config` does, with the
    bare names.
    """
    with TemporaryDirectory() as folder, chdir(folder):
        texts = dict(files)
        for name, text in texts.items():
            Path(name).write_bytes(text.encode())
        paths = [Path(name) for name in texts]
        return load_config(paths[studio:], studio=paths[:studio])


def by_line(text: str) -> str:
    """What is said of a config with file and line alone: columns and the lines that point at words are left out."""
    pointed = re.sub(r"\n    [^\n]*\n +\^(?=\n|$)", "", text)
    return re.sub(r"(?<=:)(\d+):\d+(?=: )", r"\1", pointed)
