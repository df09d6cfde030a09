"""What is said around the questions for a first studio file."""

from __future__ import annotations

import textwrap

from gpost.common.plain import shown
from gpost.workbook.first.filled import Given, default, flow
from gpost.workbook.first.questions import ALLOWED, QUESTIONS, Question, trial, unknown

WIDTH = 80


def greeting(file: str) -> str:
    """What comes before the questions."""
    name = "the file" if file == "-" else shown(file)
    text = (
        f"{len(QUESTIONS)} questions. Press Enter for what you don't know: gpost takes its own number till "
        f"then, and {name} says which trial gives yours."
    )
    return textwrap.fill(text, WIDTH) + "\n"


def question_text(number: int, question: Question) -> str:
    """One question, what it is for, and which trial answers it."""
    asked = textwrap.fill(f"{number}. {question.text}", WIDTH, subsequent_indent="   ")
    told = textwrap.fill(question.words, WIDTH, initial_indent="   ", subsequent_indent="   ")
    return f"\n{asked}\n{told}\n"


def written_text(file: str, given: Given) -> str:
    """What stands in the file, what doesn't, and what to do next."""
    name, left = "the file" if file == "-" else shown(file), unknown(given)
    lines = [f"{name} is written."]
    if left:
        lines.append("Not known yet, so gpost takes its own:")
        for path in left:
            text = f"{': '.join(map(str, path[1:]))}: {flow(default(path))}; {trial(path)}"
            lines.append(textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="    "))
    if ALLOWED in given:
        named = shown(", ".join(given[ALLOWED]))
        text = f"gpost doesn't know {named} for harmless; it is sent by your word (allow_commands)."
        lines.append(textwrap.fill(text, WIDTH))
    lines.append(f"Next: gpost survey FILE -c {'studio.yaml' if file == '-' else name}")
    return "".join(f"{line}\n" for line in lines)
