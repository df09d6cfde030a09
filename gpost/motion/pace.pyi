from gpost.motion.pacecolumns import Flags, Floats

def straight(start: Floats, end: Floats) -> tuple[Flags, Floats, Floats]: ...
def limits(
    entry: Floats,
    exit: Floats,
    cruise: Floats,
    exit_before: Floats,
    cruise_before: float,
    deviation_mm: float,
) -> Floats: ...
def settled(
    path: Floats,
    cruise: Floats,
    limit: Floats,
    end_limit_mm: float,
    most_held: int,
    acceleration_mm_s2: float,
) -> tuple[Floats, float]: ...
