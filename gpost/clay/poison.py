"""Which colourants are known to be poisonous as dust, by name, by symbol and by formula.

Which substances these are is common practice, without a source. A name never proves a powder harmless,
as mixed stains are sold by colour; so whatever is not known to be poisonous is sent to its data sheet.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

NAMES = (
    *("antimon", "arsen", "barium", "baryt", "beryll", "cadmi", "chrom", "cobalt", "copper", "cupr"),
    *("litharge", "mangan", "nickel", "plumb", "praseodym", "selen", "vanad", "zircon"),
)
"""What the names of many coloured powders hold that are poisonous or harmful as dust."""
BEGINNINGS = ("lead", "lithi", "uran")
"""The same for words that begin so; within others these letters are common."""
SYMBOLS = frozenset(
    ("Sb", "As", "Ba", "Be", "Cd", "Cr", "Co", "Cu", "Pb", "Li", "Mn", "Ni", "Pr", "Se", "U", "V", "Zr")
)
"""The same as the elements' symbols."""
OTHERS = (
    *("H", "B", "C", "N", "O", "F", "Na", "Mg", "Al", "Si", "P", "S", "Cl", "K", "Ca", "Ti", "Fe", "Zn"),
    *("Sr", "Sn", "Mo", "W", "Bi", "La", "Ce", "Nd", "Er", "Y"),
)
"""What else the formulas of colourants and clays are made of."""
EVERYDAY = frozenset(("as", "be"))
"""Symbols that are words too: among other words, in small letters, they are those."""

_SMALL = frozenset(symbol.lower() for symbol in SYMBOLS)
_ELEMENT = "|".join(sorted((*SYMBOLS, *OTHERS), key=len, reverse=True))
_AS_WRITTEN = re.compile(rf"\d*(?:(?:{_ELEMENT})\d*)++")
_GROUP = r"(?<=[a-z0-9])(?:co3|so4)"
"""Carbonate or sulphate behind a metal: no cobalt, so that whiting (CaCO3) is not taken for it."""
_ANY_CASE = re.compile(rf"\d*(?:(?:{_GROUP}|{_ELEMENT.lower()})\d*)++")
_PART = re.compile(rf"{_GROUP}|{_ELEMENT.lower()}")
_SHORT = re.compile(rf"(?:{'|'.join(sorted(_SMALL))})[os]|cdse|cdsse")
"""Oxides and sulphides without a number, which in small letters can't be told from words but by a list."""


def is_poisonous(name: str) -> bool:
    """Whether a name, symbol or formula, in any case, is of what is known to be poisonous as dust."""
    words = re.findall(r"[^\W_]+", unicodedata.normalize("NFKC", name))
    return any(_is_named(word.lower()) or _is_formula(word, alone=len(words) == 1) for word in words)


def dust_cautions(names: Iterable[str]) -> list[str]:
    """What to say of these colourants' dust: known to be poisonous, or not told by the name."""
    known: list[str] = []
    untold: list[str] = []
    for name in names:
        (known if is_poisonous(name) else untold).append(name)
    found = []
    if known:
        found.append(
            f"As dust, colourants such as {', '.join(known)} can be poisonous: read their data sheets."
        )
    found += [f"The name {name} doesn't say what is in it as dust: see its data sheet." for name in untold]
    return found


def _is_named(word: str) -> bool:
    return word.startswith(BEGINNINGS) or any(part in word for part in NAMES)


def _is_formula(word: str, *, alone: bool) -> bool:
    """Whether the word is a symbol or formula with one of SYMBOLS in it."""
    small = word.lower()
    if small in _SMALL:
        return alone or word not in EVERYDAY
    if word not in (small, word.upper()) and _AS_WRITTEN.fullmatch(word):
        return any(element in SYMBOLS for element in re.findall(_ELEMENT, word))
    if _SHORT.fullmatch(small):
        return True
    numbered = any(letter.isdigit() for letter in small)
    return bool(numbered and _ANY_CASE.fullmatch(small) and _SMALL & set(_PART.findall(small)))
