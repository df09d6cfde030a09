"""The comment lines that gpost writes into its files, and by which it knows them again."""

from __future__ import annotations

import re

from gpost.common.later import later

WROTE = "; gpost wrote this file"
"""Begins the first line and the last one of every file that gpost has changed anything in."""
HERE_IT_ENDS = f"{WROTE}: here it ends"
SILENCED = "; gpost silenced: "
"""Stands before a line that is taken out."""
REMARK = "; gpost: "
"""Begins all other comments: what an inserted block is for, and where it ends."""
GOES_ON = "to go on with a stopped print"
"""Stands in the first line of a rest, behind the version."""
BESIDE = "clay beside the piece"
NOT_SPLIT = f"{REMARK}this line is not split"

_BLANKS = later(rb"[\s\0]|\xc2\xa0")
_MOST_NAMES = 1000
_NAME = rb"([^:;()]{1,200})"


def _bare(text: str) -> bytes:
    return re.escape(_BLANKS.sub(b"", text.encode()).lower().lstrip(b";"))


_OURS = later(rb"[;(](?:" + b"|".join(map(_bare, (WROTE, SILENCED, NOT_SPLIT, REMARK + BESIDE))) + rb")")
_BEGINS = later(rb"[;(]" + _bare(REMARK) + _NAME + rb":")
_ENDS = later(rb"[;(]" + _bare(REMARK) + _NAME + rb"ends\)?$")
_REST = later(rb"[;(]" + _bare(WROTE) + rb"\([^()]*\)" + _bare(GOES_ON))


def is_rest(head: bytes) -> bool:
    """Whether a file that begins so is what `gpost resume` has written."""
    return any(_REST.match(_BLANKS.sub(b"", line).lower()) for line in head.splitlines())


class Marks:
    """Looks for gpost's own comments among lines that come in the order of the file.

    Neither case nor blanks matter, nor whether a comment stands in brackets. What a block is for is anybody's
    words, so that such a remark counts only with the one that says where it ends.
    """

    def __init__(self) -> None:
        self._begun: set[bytes] = set()

    def own(self, line: bytes) -> bool:
        """Whether it is certain by this line, and those before, that gpost wrote them."""
        bare = _BLANKS.sub(b"", line).lower()
        if _OURS.search(bare):
            return True
        ends, begins = _ENDS.search(bare), _BEGINS.search(bare)
        if ends is not None and ends[1] in self._begun:
            return True
        if begins is not None and len(self._begun) < _MOST_NAMES:
            self._begun.add(begins[1])
        return False
