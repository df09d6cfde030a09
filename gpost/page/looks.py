"""How each clay looks in pictures: the studio's swatch, and a pattern of its own, which grey paper tells too.

A clay without a swatch is hatched on white: no colour is guessed from its name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from gpost.config.model import Config
from gpost.page.svg import LINE, SIZE, WIDTH, Part, block, px, wrap
from gpost.report.model import Summary
from gpost.words import say

PAPER, DARK, LIGHT = "#ffffff", "#26221d", "#ffffff"
TILE = 10
STRIPES = "M-2 2 L2 -2 M0 10 L10 0 M8 12 L12 8"
PATTERNS = {
    "plain": "",
    "stripes": f"<path d='{STRIPES}'/>",
    "dots": "<path d='M2.5 2.5 h.01 M7.5 7.5 h.01' stroke-width='3' stroke-linecap='round'/>",
    "stripes back": "<path d='M-2 8 L2 12 M0 0 L10 10 M8 -2 L12 2'/>",
    "upright": "<path d='M2.5 0 V10 M7.5 0 V10'/>",
    "lattice": f"<path d='{STRIPES} M-2 8 L2 12 M0 0 L10 10 M8 -2 L12 2'/>",
    "rings": "<circle cx='5' cy='5' r='3'/>",
    "plus": "<path d='M5 1.5 V8.5 M1.5 5 H8.5'/>",
    "waves": "<path d='M0 5 q2.5 -5 5 0 t5 0'/>",
    "bricks": "<path d='M0 .5 H10 M0 5.5 H10 M2.5 .5 V5.5 M7.5 5.5 V10.5'/>",
    "tips": "<path d='M1.5 8 L5 2 L8.5 8 Z'/>",
    "squares": "<path d='M2 2 h6 v6 h-6 Z'/>",
}
"""Patterns by name: lines in a tile of `TILE` by `TILE` px."""
LEAST_SHARE = 0.02
"""A clay of which there is less is not drawn."""


class Look(NamedTuple):
    """How one clay looks."""

    clay: str
    swatch: str | None
    """The studio's colour, `#rrggbb`; None: it names none."""
    pattern: str
    scale: float
    """How large the pattern is: of more clays than patterns the later ones have larger ones."""

    @property
    def ground(self) -> str:
        """The colour below the pattern."""
        return self.swatch or PAPER

    @property
    def ink(self) -> str:
        """The colour of the pattern: what stands out from the ground."""
        red, green, blue = (int(self.ground[at : at + 2], 16) for at in (1, 3, 5))
        return DARK if 0.299 * red + 0.587 * green + 0.114 * blue > 120 else LIGHT


class Looks:
    """How all clays of a job look."""

    def __init__(self, clays: Iterable[str], config: Config, *, key: str) -> None:
        """`key`: what the names of its patterns begin with, so that two pictures on a page don't mix them."""
        swatches, self._key = {clay.name: clay.swatch for clay in config.clays}, key
        self.all: dict[str, Look] = {}
        left = [
            (name, scale) for scale in (1.0, 1.7, 2.6) for name in PATTERNS if scale == 1 or PATTERNS[name]
        ]
        for clay in dict.fromkeys(clays):
            swatch = swatches.get(clay)
            mine = next((pair for pair in left if swatch or PATTERNS[pair[0]]), left[-1])
            if len(left) > 1:
                left.remove(mine)
            self.all[clay] = Look(clay, swatch, *mine)

    def defs(self) -> str:
        """The patterns, for `<defs>`."""
        return "".join(
            f"<pattern id='{self._key}{place}' width='{TILE}' height='{TILE}' patternUnits='userSpaceOnUse' "
            f"patternTransform='scale({look.scale:g})'><g fill='none' stroke='{look.ink}' "
            f"stroke-width='{1.6 / look.scale:.2g}'>{PATTERNS[look.pattern]}</g></pattern>"
            for place, look in enumerate(self.all.values())
        )

    def filled(self, mix: Mapping[str, float], shape: str) -> str:
        """A shape (`<path d='...'/>`, without fill) in a mixture: colours and patterns by share."""
        found = [_with(shape, f"fill='{self.colour(mix)}'")]
        for place, (clay, look) in enumerate(self.all.items()):
            share = mix.get(clay, 0.0)
            if share >= LEAST_SHARE and PATTERNS[look.pattern]:
                strength = (0.15 + 0.85 * share) * (0.6 if look.swatch else 1.0)
                found.append(
                    _with(shape, f"fill='url(#{self._key}{place})' fill-opacity='{min(strength, 1):.2f}'")
                )
        return "".join(found)

    def colour(self, mix: Mapping[str, float]) -> str:
        """The colour between those of the clays, by their shares; a hatched clay counts as white paper."""
        return blend([(share, self.all[clay].ground) for clay, share in mix.items()])

    def chip(self, mix: Mapping[str, float], x: float, y: float, side: float = 16.0) -> str:
        """A small square in a mixture, with an edge."""
        shape = f"<rect x='{px(x)}' y='{px(y)}' width='{px(side)}' height='{px(side)}'/>"
        edge = _with(shape, "fill='none' stroke='currentColor' stroke-width='1.25'")
        return self.filled(mix, shape) + edge

    def legend(self) -> Part:
        """Each clay with its chip and its name in full."""
        body, y = [], 6.0
        for clay, look in self.all.items():
            lines = wrap(clay if look.swatch else say("pictures.no_swatch", clay=clay), WIDTH - 48)
            body += [self.chip({clay: 1.0}, 12, y), *block(40, y + (16 - SIZE) / 2 - 1, lines)]
            y += max(LINE * len(lines), 18) + 6
        return Part("".join(body), y + 4, "")


def blend(parts: Sequence[tuple[float, str]]) -> str:
    """The colour between colours, by their shares (share, #rrggbb); paper if there is none."""
    whole = sum(share for share, _ in parts)
    if not whole:
        return PAPER
    channels = (
        sum(share / whole * int(colour[at : at + 2], 16) for share, colour in parts) for at in (1, 3, 5)
    )
    return "#" + "".join(f"{min(max(round(channel), 0), 255):02x}" for channel in channels)


def clays_of(summary: Summary) -> list[str]:
    """Names of all clays of a job, in the order in which they come out: the same for all its pictures."""
    mixes: list[Sequence[str]] = [list(slug.clays) for slug in summary.line.slugs]
    mixes += [[record.colour for record in summary.colours]]
    mixes += [list(record.clays) for record in summary.shares]
    for cartridge in summary.cartridges:
        mixes += [list(slug.clays) for slug in cartridge.slugs] if cartridge.slugs else [[cartridge.colour]]
    return list(dict.fromkeys(clay for mix in mixes for clay in mix))


def _with(shape: str, attributes: str) -> str:
    return f"{shape.removesuffix('/>')} {attributes}/>"
