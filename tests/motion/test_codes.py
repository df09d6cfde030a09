"""The tables of codes say what the standard says, and don't contradict each other."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.motion import codes, machinecodes


def test_a_table_marks_its_codes() -> None:
    """Codes of the first set are 1, of the second 2, all others 0."""
    table = codes.CodeTable({10, 920}, {0})
    assert table(np.array([10, 0, 920, 30, codes.HIGHEST])).tolist() == [1, 2, 1, 0, 0]


def test_no_code_is_both_refused_and_known() -> None:
    """What can't be followed is never taken for known."""
    assert not codes.KNOWN_G & codes.REFUSED_G.keys()
    assert not codes.HARMLESS_G & {*codes.MOVES, *codes.UNITS, *codes.DISTANCE, *codes.PLANES}


def test_groups_do_not_overlap() -> None:
    """A code belongs to one group at most (NIST RS274/NGC report, section 3.4)."""
    for groups in (codes.GROUPS_G, codes.GROUPS_M):
        assert sum(map(len, groups)) == len(frozenset().union(*groups))


def test_codes_after_a_move_stop_the_machine() -> None:
    """What comes after a move (NIST RS274/NGC report, section 3.8) stops the machine, or ends all."""
    assert codes.AFTER_MOVE_M - {codes.END_M} <= codes.STOPPING_M


def g_codes(*numbers: float) -> set[int]:
    """Codes as the tables hold them: times ten."""
    return {round(10 * number) for number in numbers}


FOLLOWED = {
    "motion": g_codes(0, 1, 2, 3, 80),
    "plane": g_codes(17, 18, 19),
    "distance": g_codes(90, 91),
    "units": g_codes(20, 21),
    "of one line": g_codes(4, 28, 92, 92.1),
}
"""Groups of the NIST RS274/NGC report, section 3.4, of which gpost follows these codes."""
OFF = g_codes(40, 49, 54, 61, 61.1, 64, 94, 98, 99)
"""What of the same groups changes nothing: compensation and length offset off (sections 3.5.10, 3.5.11), the
first coordinate system (3.5.13), path modes (3.5.14), units per minute (3.5.19), returns of canned cycles (3.5.20)."""


def test_the_codes_that_are_followed() -> None:
    """Each group has the standard's codes; G10 and G11 are printing's own, and so is G29 (no source)."""
    assert {*codes.MOVES, codes.MOTION_OFF} == FOLLOWED["motion"]
    assert codes.PLANES == {170: 17, 180: 18, 190: 19}
    assert codes.DISTANCE == {900: False, 910: True}  # G90 absolute, G91 incremental: section 3.5.17
    assert codes.UNITS == {200: 25.4, 210: 1.0}  # G20 inches, G21 millimetres: section 3.5.7
    assert FOLLOWED["of one line"] | g_codes(10, 11) == codes.ONE_TIME_G
    assert OFF | set().union(*FOLLOWED.values()) | g_codes(10, 11, 29, 91.1) == codes.KNOWN_G
    assert tuple(map(frozenset, (*list(FOLLOWED.values())[:4], codes.ONE_TIME_G))) == codes.GROUPS_G


def test_codes_of_an_axis_or_of_none() -> None:
    """G92, G28 and G29 name axes, and the machine stands still at all of one line but the offsets (3.5.8, 3.5.18)."""
    assert g_codes(28, 29, 92) == codes.USES_AXES_G
    assert g_codes(4, 10, 11, 28, 29) == codes.STILL_G
    assert g_codes(17, 18, 19, 20, 21, 80, 90, 91, 91.1) | OFF == codes.MODAL_G
    assert g_codes(4, 10, 11, 28, 92, 92.1) == {
        codes.DWELL,
        codes.RELIEVE,
        codes.UNRELIEVE,
        codes.HOME,
        codes.SET_REGISTER,
        codes.CLEAR_OFFSETS,
    }


REFUSED_BY_STANDARD = {
    "cutter compensation": (41, 42),  # section 3.5.10
    "a tool length offset": (43,),  # 3.5.11
    "another coordinate system": (55, 56, 57, 58, 59, 59.1, 59.2, 59.3),  # 3.5.13
    "machine coordinates": (53,),  # 3.5.12
    "a second home": (30,),  # 3.5.8
    "a canned cycle": (81, 82, 83, 84, 85, 86, 87, 88, 89),  # 3.5.16
    "inverse-time feed": (93,),  # 3.5.19
    "offsets that are suspended": (92.2,),  # 3.5.18
    "offsets taken from": (92.3,),
}
REFUSED_BY_USAGE = {
    "a spline": (5, 5.1),
    "diameters": (7,),
    "polar": (16,),
    "a tool length offset": (43.1, 43.4, 44),
    "another scale": (51,),
    "another coordinate system": (52,),
    "a subprogram": (65, 66, 67),
    "turned coordinates": (68,),
    "a canned cycle": (73,),
    "arc centres in absolute": (90.1,),
    "feed per revolution": (95,),
}
"""Common practice of milling, no source."""


@pytest.mark.parametrize("table", [REFUSED_BY_STANDARD, REFUSED_BY_USAGE])
def test_the_codes_that_are_refused(table: dict[str, tuple[float, ...]]) -> None:
    """What would lead the nozzle elsewhere than gpost knows is refused by its name (NIST sections beside each)."""
    for begins, numbers in table.items():
        for code in g_codes(*numbers):
            assert codes.REFUSED_G[code].startswith(begins)


def test_nothing_else_is_refused() -> None:
    """The two tables are all."""
    both = [*REFUSED_BY_STANDARD.values(), *REFUSED_BY_USAGE.values()]
    assert codes.REFUSED_G.keys() == set().union(*(g_codes(*numbers) for numbers in both))
    assert codes.REFUSED_M.keys() == g_codes(97, 98, 99)  # common practice of milling, no source


def test_m_codes_of_the_standard() -> None:
    """Stopping and ending (sections 3.6.1, 3.8), spindle, coolant and overrides (3.6.2 to 3.6.5)."""
    assert {*codes.GROUPS_M[3]} == g_codes(0, 1, 2)
    assert g_codes(2, 3, 4, 5, 7, 8, 9, 30, 48, 49) == codes.PLAIN_M
    assert g_codes(2, 30) == codes.ENDING_M & codes.PLAIN_M
    assert g_codes(6) == {codes.TOOL_CHANGE_M}
    assert g_codes(0, 1, 2, 60) == codes.AFTER_MOVE_M


def test_m_codes_of_printing() -> None:
    """Common practice of printing, no source."""
    assert g_codes(0, 1, 6, 24, 25, 60, 109, 116, 190, 191, 226, 400, 600) == codes.STOPPING_M
    assert g_codes(0, 1, 25, 226, 600) == codes.WAITING_M
    assert (codes.EXTRUDE_ABSOLUTE, codes.EXTRUDE_RELATIVE) == (820, 830)
    assert (codes.CLAY_ON, codes.CLAY_ON_REVERSE, codes.CLAY_OFF) == (1010, 1020, 1030)
    assert (codes.AIR_ON, codes.AIR_OFF) == (1060, 1070)
    assert (codes.FEED_FACTOR, codes.FLOW_FACTOR) == (2200, 2210)
    assert g_codes(112) == codes.ENDING_M - codes.PLAIN_M
    assert g_codes(163, 164, 165, 567) == codes.MIXING_M
    assert codes.GROUPS_M[:3] == (
        g_codes(82, 83),
        g_codes(106, 107),
        g_codes(101, 102, 103),
    )


EFFECTS = {
    machinecodes.OFFSETS: (206, 290, 428),
    machinecodes.PROBE_OFFSET: (851,),
    machinecodes.STEPS: (92, 350, 351),
    machinecodes.E_UNIT: (200,),
    machinecodes.LEVELLING: (323, 420, 421, 425, 556, 557, 558, 561),
    machinecodes.KINEMATICS: (665, 666, 667, 669),
    machinecodes.TOOLS: (217, 218, 451, 452, 453, 563, 584, 585, 605),
    machinecodes.RESET: (501, 502),
    machinecodes.FILES: (23, 26, 28, 29, 32, 559, 560, 928),
    machinecodes.LOADING: (125, 701, 702),
    machinecodes.STARTS: (24,),
    machinecodes.DRY: (37, 111),
    machinecodes.LIMITS: (120, 121, 208, 211, 540, 564, 574),
    machinecodes.STORE: (500, 504),
    machinecodes.DIRECTION: (569,),
    machinecodes.PINS: (3, 4, 5, 42, 280),
    machinecodes.MOTORS: (906, 907, 908, 911, 912, 913, 914),
    machinecodes.POWER: (80,),
}


def test_what_codes_do_to_the_machine() -> None:
    """Common practice of printing, no source: which codes set up the machine, stop it, or set its pace."""
    expected = {code: effect for effect, numbers in EFFECTS.items() for code in g_codes(*numbers)}
    assert expected == machinecodes.SETTINGS_M
    assert machinecodes.SETTINGS_G.keys() == g_codes(29, 31, 32, 33, 34)
    assert machinecodes.STOPS_M.keys() == g_codes(81, 112, 997, 999)
    assert g_codes(201, 202, 203, 204, 205, 566) == machinecodes.PACE_M
    assert g_codes(18, 84) == machinecodes.LETS_GO_M


def test_after_which_settings_nothing_can_be_told() -> None:
    """Those that say where the nozzle goes, or how much clay comes; not those that only store, limit or switch."""
    tells_still = {effect for effect in EFFECTS if not effect.loses}
    assert tells_still == {
        machinecodes.STARTS,
        machinecodes.LIMITS,
        machinecodes.STORE,
        machinecodes.MOTORS,
        machinecodes.PINS,
        machinecodes.POWER,
    }


def test_a_code_is_written_with_its_letter() -> None:
    """Whole codes without a point, others with a tenth."""
    assert [codes.name_of("G", code) for code in (0, 920, 921, 591)] == ["G0", "G92", "G92.1", "G59.1"]
    assert codes.name_of("M", 1040) == "M104"


def test_the_highest_code() -> None:
    """Four digits and no tenth: M9999."""
    assert codes.HIGHEST == 10 * 9999
    assert len(codes.CodeTable({codes.HIGHEST})(np.array([0, codes.HIGHEST]))) == 2


HARMLESS = {
    "reports": (31, 34, 38, 39, 78, 79, 86, 87, 113, 115, 119, 122, 150, 155, 503),
    "says, shows, asks": (145, 149, 250, 256, 260, 261, 291, 292, 355, 575),
    "heats, or waits for heat": (141, 143, 144, 192, 305),
    "files and jobs": (33, 36, 43, 486),
    "sensors and pauses": (401, 402, 403, 404, 405, 406, 407, 412, 413, 591, 601, 602, 603),
    "pressure and vibration": (572, 593, 900),
    "others": (555, 862, 871, 876, *(862 + tenth / 10 for tenth in range(10))),
}


def test_m_codes_that_change_nothing_about_the_nozzle() -> None:
    """Common practice of printing, no source; and none of them stands in another table."""
    assert set().union(*(g_codes(*numbers) for numbers in HARMLESS.values())) == machinecodes.HARMLESS_M
    others = [machinecodes.SETTINGS_M, machinecodes.STOPS_M, machinecodes.PACE_M, machinecodes.LETS_GO_M]
    assert not machinecodes.HARMLESS_M & set().union(*others)
