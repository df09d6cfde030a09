"""Commands that a config or a step could be made to send, and which of them are free; imports nothing of gpost.

What the codes do is common practice, no source; M0, M1, M2, M30 and G10: NISTIR 6556, sections 3.5 and 3.6.
"""

from __future__ import annotations

import re

SURPRISES: dict[str, tuple[str, ...]] = {
    "offsets": ("M206 Z-20", "M206 X5 Y5", "M428", "M851 Z-2", "M218 T1 X20", "G10 L2 P1 Z-5", "G92.1", "G52 Z-9",
                "G54", "M290 Z-0.5", "SET_OFFSET Z=-20", "SET_OFFSET Z_MORE=-1 MOVE=1", "M565 P0 Z-5"),
    "steps per mm, accelerations": ("M92 Z3200", "M92 E1", "M201 X9000", "M203 X60000", "M204 P20000", "M205 X50",
                                    "M566 X900", "M900 K2", "SET_SPEED_LIMIT SPEED=900",
                                    "SET_STEPS AXIS=z", "M221 S50", "M220 S400", "M207 S5", "M208 S5", "M209 S1"),
    "limits": ("M211 S0", "M208 Z900 S0", "M564 S0 H0", "M120", "M121", "M540 S1", "SET_PLACE Z=200"),
    "motors": ("M906 X3000", "M907 X2", "M908 P0 S255", "M350 X16", "M351 S1", "M17", "M84", "M18", "M84 X", "M84 E",
               "M569 P0 S0", "M913 X10", "M914 X200", "M911", "SET_MOTOR_CURRENT MOTOR=z CURRENT=3", "M122"),
    "heaters": ("M104 S300", "M109 S300", "M109 R300", "M140 S120", "M190 S120", "M141 S80", "M191 S80", "M303 E0 S200",
                "M301 P1 I1 D1", "M304 P1", "M143 S400", "M305 P0", "M116", "M568 P0 S250",
                "SET_HEATER HEATER=nozzle TARGET=300", "WAIT_FOR_HEAT SENSOR=bed", "M108"),
    "stored settings": ("M500", "M501", "M502", "M503", "M504", "M505", "STORE_SETTINGS", "RESTART_BOARD", "M115"),
    "files": ("M28 a.g", "M29", "M30 a.g", "M23 a.g", "M24", "M32 a.g", "M33 a.g", "M36", "M928 log.g", "M26 S0",
              "M27", "M21", "M22", "M25 P1", "M98 P2", "M997", "M559", "M581 P1", "PRINT_FILE NAME=a.g"),
    "power": ("M80", "M81", "M81 S1", "M112", "M999", "M410", "M85 S1", "M999 P1", "M2", "M30", "M0 M30", "SHUTDOWN",
              "M108 S1", "RUN_ON_HOST CMD=x", "M118 E1 go", "M118 go", "{call_host}"),
    "pins": ("M42 P4 S255", "M42 S255", "M42 P13", "M280 P0 S90", "M3 S5000", "M4 S9", "M5", "M7", "M8", "M9", "M62 P1",
             "M64 P1", "M355 S1", "M150 R255", "SET_AIR AT=relay VALUE=1", "SET_SERVO SERVO=x ANGLE=9", "M126", "M127",
             "M400 P1", "M42 P<level>", "M260 A9", "M261"),
    "kinematics, tools": ("M665 L300", "M666 X1", "M669 K1", "M605 S2", "T1", "M6 T1", "M6", "M563 P1", "M217 S5",
                          "M404 W2", "M200 D2", "M145 S0", "M425 Z1", "M852 I1", "G17", "G18", "G20", "G21", "G90",
                          "G91", "M82", "M83", "M101", "M103"),
    "probing, homing, moves": ("G28", "G28 Z", "G29", "G30", "G30 Z-5", "G31", "G32", "G33", "G38.2 Z-10", "M48",
                               "M401", "M402", "M420 S1", "M421 I0", "M557 X0", "M558 P1", "G0 X5", "G1 Z-5", "G2 I5",
                               "X5", "G12", "G27", "G34", "G60", "G61", "MEASURE_BED", "PROBE", "G10", "G11",
                               "G92 E0", "G92 Z5", "G5 X1"),
    "what parks or pushes by itself": ("M600", "M125", "M125 X5", "M701", "M702", "M600 E-50", "PAUSE", "RESUME",
                                       "M601", "M602", "M603 U9", "M24 S0", "CANCEL_PRINT", "CHANGE_CLAY"),
    "more than one, or odd": ("M0 G28", "M106 S5 M81", "M106 S-5", "M300 G1 X5", "M0 X5", "M1 #5", "M106 S[9]",
                              "M107 S1e9", "M302 T1", "m92 z3200", "M 92 Z1", "M0092 Z1", "M0.1", "M25 S1", "M84 S",
                              "M106 S1 S2", "M999999999", "WAIT NOW", "o100 call", "$X", "M18 S0 X", "M84S0Z"),
}  # fmt: skip
"""By what they change. Free in no place but where FREE says."""
TABLE = tuple(dict.fromkeys(command for some in SURPRISES.values() for command in some))

FREE = re.compile(
    r"(?!.* ([PS]).* \1)(?:M300( [PS][0-9]+)*|M106( [PS][0-9]+)*|M107( P[0-9]+)?|M302( [PS][0-9]+)*)"
)
"""Commands that may be sent from everywhere, in the plainest writing."""
EXAMPLES = ("M300 S440 P200", "M106 S128", "M106 P1 S5", "M107", "M107 P1", "M302 P1", "M302 S0")
"""Some of each."""
FREE_IN_PAUSE = re.compile(
    r"(?!.* ([PS]).* \1)(?:M[01]( [PS][0-9]+)*|M0 [A-Z][a-z ]+|M25|M226( [PS][0-9]+)*|M(84|18) S[0-9]+|G4( [PS][0-9]+)*)"
)
"""Those that may be sent in a pause as well, where the nozzle stands clear and somebody is called."""
EXAMPLES_IN_PAUSE = ("M0", "M1", "M0 Load clay", "M25", "M226 P5 S1", "M84 S0", "M18 S3600", "G4 P10")
"""Some of each."""
