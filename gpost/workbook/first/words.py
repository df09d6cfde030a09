"""What is said around the questions for a first studio file."""

from __future__ import annotations

from gpost.common.layout import Paragraph, Part, laid_out
from gpost.common.plain import shown
from gpost.workbook.first.filled import Given, default, flow
from gpost.workbook.first.questions import ALLOWED, QUESTIONS, Question, trial, unknown


def greeting(file: str, width: int | None = None) -> str:
    """What comes before the questions."""
    name = "the file" if file == "-" else shown(file)
    text = (
        f"{len(QUESTIONS)} questions. Press Enter for what you don't know: gpost takes its own number till "
        f"then, and {name} says which trial gives yours."
    )
    return laid_out([Paragraph(text, hyphens=True)], width)


def question_text(number: int, question: Question, width: int | None = None) -> str:
    """One question, what it is for, and which trial answers it."""
    mark = f"{number}. "
    margin = " " * len(mark)
    asked = Paragraph(question.text, mark, margin, hyphens=True)
    told = Paragraph(question.words, margin, margin, hyphens=True)
    return laid_out(["", asked, told], width)


def written_text(file: str, given: Given, width: int | None = None) -> str:
    """What stands in the file, what doesn't, and what to do next."""
    name, left = "the file" if file == "-" else shown(file), unknown(given)
    lines: list[Part] = [f"{name} is written."]
    if left:
        lines.append("Not known yet, so gpost takes its own:")
        for path in left:
            text = f"{': '.join(map(str, path[1:]))}: {flow(default(path))}; {trial(path)}"
            lines.append(Paragraph(text, "  ", "    ", hyphens=True))
    if ALLOWED in given:
        named = shown(", ".join(given[ALLOWED]))
        text = f"gpost doesn't know {named} for harmless; it is sent by your word (allow_commands)."
        lines.append(Paragraph(text, hyphens=True))
    lines.append(f"Next: gpost survey FILE -c {'studio.yaml' if file == '-' else name}")
    return laid_out(lines, width)
