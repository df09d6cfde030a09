"""What a file that goes on with a stopped print begins with, in words: what to do first, what it sends."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.common.layout import Part
from gpost.common.plain import shown
from gpost.report.origin import ResumeRecord
from gpost.report.wording import numbered, wrapped
from gpost.words import listed, recorded, say


def before_going_on(resume: ResumeRecord) -> Iterator[Part]:
    """The page of them."""
    yield say("page.before_going_on")
    for number, text in enumerate(resume.checks, 1):
        yield from numbered(number, text, margin="  ")
    for text in sent_again(resume):
        yield from wrapped(text, first="  ", indent="    ")


def sent_again(resume: ResumeRecord | None) -> Iterator[str]:
    """Which of the file's commands it sends, and which it leaves out; nothing of a file that begins anew."""
    if resume is None:
        return
    if resume.sends:
        yield say("page.sends_again", commands=listed(map(_command, resume.sends)))
    yield say("page.leaves_out", commands=listed([say("page.beads"), *map(_command, resume.leaves_out)]))


def _command(text: str) -> str:
    return recorded(shown(text))
