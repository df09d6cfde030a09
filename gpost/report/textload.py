"""What to prepare and to load, in words: clays to wedge, the slab, cartridges, and how sure that is."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from gpost.common.digits import few
from gpost.common.layout import Part
from gpost.common.plain import shown
from gpost.common.sentence import all_of
from gpost.report.defaults import LOAD_G, LOAD_ML
from gpost.report.model import CartridgeRecord, ClayRecord, LineRecord, SlugRecord, Summary, SureRecord
from gpost.report.slugs import ORDER
from gpost.report.toload import CAN_BE_OVER_ML, Portion, ToLoad, portions_of, what_to_load
from gpost.report.wording import Stars, mass, numbered, wrapped
from gpost.supply.bands import name_of
from gpost.supply.sure import HARDLY, chance_words, in_it
from gpost.words import listed, say

WORTH_SAYING_ML = 0.5
"""Less is lost in the rounding of what to load."""


def to_prepare(summary: Summary, star: Stars) -> Iterator[Part]:
    """Clays to wedge, the slab, and where the foot falls."""
    if not summary.clays:
        return
    yield "Prepare"
    if summary.resume is not None and not any(clay.clay_ml >= WORTH_SAYING_ML for clay in summary.clays):
        yield "  nothing to wedge: hose and cartridge hold all that the rest needs"
        return
    if summary.in_day:
        yield "  wedge by the day's sheet; this piece takes of it"
    for clay in summary.clays:
        text = clay_text(clay, star(LOAD_G), verb="" if summary.in_day else "wedge ")
        yield from wrapped(text, indent=" " * 8, first="  ")
    if summary.resume is not None:  # slab and foot lie where they lie
        return
    foot = f"x {summary.piece.foot_x_mm:z.0f}, y {summary.piece.foot_y_mm:z.0f} mm"
    slab = summary.slab
    if slab is None:
        yield f"  the middle of the foot falls at {foot}"
        return
    kind = f"a slab of {slab.x_size_mm:.0f} x {slab.y_size_mm:.0f} mm"
    if slab.round:
        kind = f"a round slab, {slab.x_size_mm:.0f} mm across"
    middle = f"x {slab.x_mm:z.0f}, y {slab.y_mm:z.0f} mm"
    size = f"{kind}, {slab.thickness_mm:g} mm thick ({mass(slab.wet_g)})"
    text = f"{size}, its middle at {middle}; that of the foot at {foot}"
    yield from wrapped(text, indent=" " * 8, first="  ")


def clay_text(clay: ClayRecord, star: str, *, verb: str = "wedge ") -> str:
    """How much of a clay to wedge, what it is for, and what colours it."""
    parts = [
        (clay.piece_ml, "in the piece"),
        (clay.beside_ml, "beside it"),
        (clay.left_ml, "stay in hose and cartridges"),
        (clay.slab_ml, "for the slab"),
        (clay.waste_ml, "waste"),
    ]
    said = ", ".join(f"{ml:.0f} {what}" for ml, what in parts if ml >= WORTH_SAYING_ML)
    if clay.on_ml >= WORTH_SAYING_ML:
        said += f"; {clay.on_ml:.0f} of it are in hose and cartridge already"
    if verb and clay.on_ml and clay.clay_ml < WORTH_SAYING_ML:
        return f"{verb}no {shown(clay.name)} (ml: {said})"
    weight = f"{mass(clay.wet_g)}{star}"
    text = f"{verb}{shown(clay.name)}: {weight}, {clay.clay_ml / 1000:.2f} l (ml: {said})"
    stains = [f"{few(grams, 2)} g {shown(name)}" for name, grams in clay.stains_g.items() if grams]
    if stains:
        text += f", with {', '.join(stains)} and {few(clay.water_g, 2)} g of water"
    return text


def to_load(summary: Summary, star: Stars) -> Iterator[Part]:
    """What goes into hose and cartridges."""
    if not summary.cartridges:
        return
    yield "Load"
    said = [_line(summary.line, star)] if summary.line.clay_ml > 0 else []
    for text in said:
        yield from wrapped(text, indent=" " * 8, first="  ")
    if summary.loaded_from is not None and any(cartridge.slugs for cartridge in summary.cartridges):
        yield f"  {ORDER[summary.loaded_from]}"
    for cartridge in summary.cartridges:
        yield from wrapped(load_text(cartridge, summary.sure, star), indent=" " * 8, first="  ")
        rows = zip(cartridge.slugs, portions_of(cartridge), strict=True)
        for number, (slug, portion) in enumerate(rows, 1):
            yield from numbered(number, _slug(slug, portion), margin=" " * 8)
    for text in (_reserve(summary), *by_path(summary), *_how_sure(summary), *star.explained()):
        yield from wrapped(text, indent=" " * 8, first="  ")


def by_path(summary: Summary) -> Iterator[str]:
    """The bead that all amounts go with, where the file has no E."""
    if summary.metering is not None and summary.metering.path_bead is not None:
        yield f"clay is reckoned by the path, as a bead {summary.metering.path_bead}"


def _slug(slug: SlugRecord, portion: Portion) -> str:
    length = "" if portion.mm is None else f", {portion.mm} mm"
    behind = " (stays behind)" if slug.reserve else ""
    name = shown(name_of(slug.clays))
    return f"{name}: {portion.ml} ml, {portion.g} g{length}{behind}"


def _line(line: LineRecord, star: Stars) -> str:
    held = list(line.at_end.items())
    if len(held) == 1:
        end = f"it ends full of {shown(held[0][0])}"
    else:
        end = "it ends with " + ", ".join(f"{clay_ml:.0f} ml of {shown(colour)}" for colour, clay_ml in held)
    size = f"{line.clay_ml:.0f} ml{star('line.clay_ml')}"
    return f"the hose ({size}) must be full of {shown(line.at_start)} before the start; {end}"


def load_text(cartridge: CartridgeRecord, sure: SureRecord, star: Stars) -> str:
    """How much goes into a cartridge, or how much too little it holds."""
    name = say("names.cartridge_of", number=cartridge.number, clay=shown(cartridge.colour))
    return say("loads.said", cartridge=name, said=listed(_load(cartridge, sure, star), "names.semicolon"))


def _load(cartridge: CartridgeRecord, sure: SureRecord, star: Stars) -> Iterator[str]:
    again_ml = cartridge.need_ml - cartridge.clay_ml
    again = f"{again_ml:.0f}" if again_ml >= WORTH_SAYING_ML else ""
    if cartridge.over_ml > CAN_BE_OVER_ML:
        asked = {"need": f"{cartridge.need_ml:.0f}", "usable": f"{cartridge.usable_ml:.0f}"}
        key = "loads.too_little_again" if again else "loads.too_little"
        yield say(key, **asked, over=f"{cartridge.over_ml:.0f}", again=again)
    elif cartridge.is_on:
        key = "loads.on_day" if cartridge.pieces else "loads.on_rest"
        yield say(key, ml=in_it(cartridge.begins_ml or 0.0), need=f"{cartridge.need_ml:.0f}")
        yield from _dry(cartridge, sure)
    elif cartridge.pieces:
        yield from _of_day(cartridge, sure)
    else:
        yield _least(what_to_load(cartridge), sure, star)
        if again:
            yield say("loads.again", ml=again)
        yield from _dry(cartridge, sure)


def _least(found: ToLoad, sure: SureRecord, star: Callable[[str], str] = lambda figure: "") -> str:
    return least_text(found.ml, found.g, 100 - sure.taken_percent if found.sure else None, star)


def least_text(ml: int, g: int, sure_percent: float | None, star: Callable[[str], str]) -> str:
    """What must be in a cartridge; `sure_percent`: in how many of 100 that does; None: no spread is known."""
    said = {"ml": ml, "g": g, "star": star(LOAD_ML), "star_g": star(LOAD_G)}
    if sure_percent is None:
        return say("loads.least", **said)
    return say("loads.least_sure", **said, percent=f"{sure_percent:g}")


def _of_day(cartridge: CartridgeRecord, sure: SureRecord) -> Iterator[str]:
    """What the day's sheet says of it, and what is in it when this piece begins."""
    found = what_to_load(cartridge)
    text = _least(found, sure)
    if len(cartridge.pieces) > 1:
        text = say("loads.least_for", least=text, pieces=listed(map(shown, cartridge.pieces)))
    yield text
    if cartridge.begins_ml is not None and found.ml - cartridge.begins_ml >= 1:
        yield say("loads.left", ml=f"{cartridge.begins_ml:.0f}")


def _dry(cartridge: CartridgeRecord, sure: SureRecord) -> Iterator[str]:
    """How likely it runs dry, as full as it is planned, where that is likelier than is taken."""
    if cartridge.dry_percent is None or cartridge.dry_percent <= sure.taken_percent + 0.05:
        return
    chance, early = cartridge.dry_percent / 100, cartridge.early_layers
    often = say("loads.hardly") if chance < HARDLY else chance_words(chance)
    yield say("loads.dry_early", count=early, chance=often) if early else say("loads.dry", chance=often)


def _reserve(summary: Summary) -> str:
    """What is in all of these amounts beside what the job takes."""
    cartridges = summary.cartridges
    if summary.in_day:
        return "loads are those of the day's sheet, the reserve counted in"
    reserve_ml = cartridges[0].load_ml - cartridges[0].need_ml
    if reserve_ml <= 0.05:
        return ""
    on_average = "" if summary.sure.reserve_ml is None else " on average"
    each = "that" if len(cartridges) == 1 else "each"
    return f"of {each}, {reserve_ml:.0f} ml stay behind as reserve{on_average}"


def _how_sure(summary: Summary) -> Iterator[str]:
    """Which errors are counted in, and what they come to for the whole print."""
    sure = summary.sure
    known = {
        "E": _percent(sure.metered_percent),
        "wet density": _percent(sure.density_percent),
        "hose": None if sure.line_ml is None else f"{sure.line_ml:g} ml",
        "reserve": None if sure.reserve_ml is None else f"{sure.reserve_ml:g} ml",
    }
    told = [f"{what} {spread}" for what, spread in known.items() if spread is not None]
    missing = [what for what, spread in known.items() if spread is None and what != "reserve"]
    if told:
        yield f"counted in, each as a standard deviation: {', '.join(told)}"
    if missing:
        most = f". Most telling: {shown(sure.trials[0])}" if sure.trials else ""
        yield f"how far off {all_of(missing)} may be is not known, and nothing is added for it{most}"
    if sure.dry_percent is not None:
        often = chance_words(sure.dry_percent / 100)
        held = "each full or as the config says"
        if summary.resume is not None:
            held = "with as much in it as is said here"
        yield f"in {often} of all prints a cartridge runs dry before its end, {held}"


def _percent(percent: float | None) -> str | None:
    return None if percent is None else f"{percent:g} %"
