"""The docstrings that are shown to people, also where Python itself leaves docstrings out."""

from __future__ import annotations

import ast
import inspect
import sys
import textwrap
from collections.abc import Callable
from typing import Any

NO_DOCSTRINGS = 2
"""The level of `python -O`, or of PYTHONOPTIMIZE, from which on there are none."""


def docstring(of: type | Callable[..., Any]) -> str:
    """The docstring of a class or function, without its indent; "" if it has none.

    Where Python has left it out, it is read from the source, if that is there.
    """
    if of.__doc__ or sys.flags.optimize < NO_DOCSTRINGS:
        return inspect.cleandoc(of.__doc__ or "")
    try:
        (definition,) = ast.parse(textwrap.dedent(inspect.getsource(of))).body
    except (OSError, TypeError, ValueError, SyntaxError):
        return ""
    documented = ast.ClassDef | ast.FunctionDef
    return (ast.get_docstring(definition) if isinstance(definition, documented) else None) or ""
