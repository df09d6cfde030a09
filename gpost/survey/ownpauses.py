"""Where the file itself makes the machine wait: by codes that everybody waits at, and those of the config."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from gpost.common.later import later
from gpost.config.commands import may_wait
from gpost.config.model import Config
from gpost.errors import SourceError
from gpost.motion import codes
from gpost.survey.model import NamedCommand, OwnPause

MOST = 10_000
"""Pauses of its own that a file may have."""

NO_TIMES: Mapping[int, float] = MappingProxyType({})

_M_CODE = later(r"[Mm]\s*(\d{1,4}(?:\.\d)?)(?![\d.])")


def own_pauses(
    commands: NDArray[np.void],
    named: Sequence[NamedCommand],
    config: Config,
    timed_s: Mapping[int, float] = NO_TIMES,
) -> tuple[OwnPause, ...]:
    """The file's own pauses in the order of its lines; `commands` as in the survey.

    `timed_s`: after how many seconds it goes on by itself, by line.

    Raises SourceError for more of them than any file can need.
    """
    waiting, names = set(codes.WAITING_M), set[str]()
    for command in filter(may_wait, config.machine.pause.commands):
        code = _M_CODE.match(command)
        if code is not None:
            waiting.add(round(float(code[1]) * 10))
        else:
            names.add(command.split()[0].upper())
    own = codes.said(commands, "M", waiting)
    if np.count_nonzero(own) > MOST:
        raise SourceError(
            f"the file itself makes the machine wait more than {MOST} times, and nobody can be there for "
            "that; take the waits out of it",
            line=int(commands["line"][own][0]),
        )
    found = [
        OwnPause(line, codes.name_of("M", code), timed_s.get(line))
        for line, code in zip(commands["line"][own].tolist(), commands["code_x10"][own].tolist(), strict=True)
    ]
    found += [OwnPause(other.line, other.name) for other in named if other.name in names]
    return tuple(sorted(found, key=lambda pause: pause.line))
