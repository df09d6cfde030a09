"""The page of what a command has made, where it writes none itself."""

from __future__ import annotations

from typing import Any

import gpost.pipeline
from gpost.page.sheet import page_html
from tests.resuming import typed


def with_page(*args: object) -> str:
    """Run a command, and make the page of its job."""
    answers: list[Any] = []
    answered = gpost.pipeline._answer

    def keep(*given: Any) -> Any:
        answers.append(answered(*given))
        return answers[-1]

    gpost.pipeline._answer = keep
    try:
        result = typed(*args)
    finally:
        gpost.pipeline._answer = answered
    assert result.exit_code == 0, result.output
    return page_html(answers[-1].summary, answers[-1].plan)
