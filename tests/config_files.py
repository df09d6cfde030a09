"""Configs as people have them: files in a folder, loaded by their names."""

from __future__ import annotations

from contextlib import chdir
from pathlib import Path
from tempfile import TemporaryDirectory

from gpost.config.load import LoadedConfig, load_config


def load_files(files: dict[str, str]) -> LoadedConfig:
    """Load config files by name and text, as from the folder that they are in: a later one overrides an earlier one.

    Raises ConfigError as `load_config` does, with the bare names.
    """
    with TemporaryDirectory() as folder, chdir(folder):
        for name, text in files.items():
            Path(name).write_bytes(text.encode())
        return load_config([Path(name) for name in files])
