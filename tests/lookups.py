"""Surveys that answer otherwise than their own lines and spots would."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

from gpost.survey.inside import Lookup
from gpost.survey.model import Survey

NAMES = sorted(name for name in vars(Lookup) if not name.startswith("_"))


def answering(survey: Survey, **answers: Any) -> Survey:
    """The survey with other answers to some of what a Lookup is asked."""
    assert set(answers) <= set(NAMES)
    own = {name: getattr(survey.lookup, name) for name in NAMES}
    return replace(survey, lookup=cast("Lookup", SimpleNamespace(**own | answers)))
