"""A regular expression that is compiled when it is first used: a usual run needs few of them."""

from __future__ import annotations

import re
from typing import Any, AnyStr, Generic, cast


def later(pattern: AnyStr, flags: int = 0) -> re.Pattern[AnyStr]:
    """What `re.compile` gives, but not before it is asked for something."""
    return cast("re.Pattern[AnyStr]", _Later(pattern, flags))


class _Later(Generic[AnyStr]):
    def __init__(self, pattern: AnyStr, flags: int) -> None:
        self.pattern: AnyStr = pattern
        self._flags = flags

    def __getattr__(self, name: str) -> Any:
        """A method of the pattern, which is found without this from then on."""
        found = getattr(re.compile(self.pattern, self._flags), name)  # `re` keeps what it has compiled
        setattr(self, name, found)
        return found
