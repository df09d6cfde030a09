# cython: language_level=3, boundscheck=False, wraparound=False, initializedcheck=False, cdivision=True
"""Moves added up, told apart and wound round a centre, in a pass each: compiled, where there was a compiler.

It gives what gpost/survey/bycolumns.py gives, to the last bit: sums are made in numpy's own order.
"""

from libc.math cimport INFINITY, fabs
from libc.stdint cimport int64_t, uint8_t
from libc.string cimport memcmp

import numpy as np

from gpost.common.inline import in_line
from gpost.survey.bycolumns import CLEAR_STEP_MM, FULL_TURN, LIFT_MM, SAME_HEIGHT_MM, SAME_PLACE_MM

cdef enum:
    LENGTH, CLAY, CRUISE, TIME, WAIT, AMOUNTS
    # behind the sums over all moves, those over the ones that lay clay
    LAID_LENGTH = AMOUNTS, LAID_CLAY, LAID_CRUISE, LAID_TIME, HEIGHT, ALL
    SUMMED = 8
    LAID = 4  # amounts of which both are wanted
    LANES = 8  # numpy adds up so many columns side by side
    AT_ONCE = 128  # and no more numbers than these at a time, but halves of more


cdef struct Moves:
    const double* amount[AMOUNTS]
    const double* corner[6]  # X of both, then Y, then Z
    const double* start_z
    const double* end_z
    const uint8_t* laying


cdef struct Box:
    double low[3]
    double high[3]


def added_up(rows, const int64_t[::1] at):
    """As gpost.survey.bycolumns.added_up."""
    cdef Py_ssize_t parts = at.shape[0], part, first, upto, axis
    cdef const double[:, :] start = in_line(rows.start), end = in_line(rows.end)
    cdef const double[:, :] amount = in_line(rows.amounts), corner = start, across = end
    cdef const uint8_t[::1] lays = rows.laying.view(np.uint8)
    if rows.corner is not None:
        corner, across = in_line(rows.corner), in_line(rows.across)
    sums, low, high = np.zeros((parts, SUMMED)), np.empty((parts, 3)), np.empty((parts, 3))
    cdef double[:, ::1] found = sums, lows = low, highs = high
    cdef double total[ALL]
    cdef Moves moves
    cdef Box box
    moves.laying, moves.start_z, moves.end_z = &lays[0], &start[2, 0], &end[2, 0]
    for axis in range(3):
        moves.corner[2 * axis], moves.corner[2 * axis + 1] = &corner[axis, 0], &across[axis, 0]
    for axis in range(AMOUNTS):
        moves.amount[axis] = &amount[axis, 0]
    with nogil:
        for part in range(parts):
            first, upto = at[part], at[part + 1] if part + 1 < parts else lays.shape[0]
            for axis in range(3):
                box.low[axis], box.high[axis] = INFINITY, -INFINITY
            _part(&moves, first, upto - first, total, &box)
            found[part, 0], found[part, 1], found[part, 2] = total[CLAY], total[LAID_CLAY], total[LAID_LENGTH]
            found[part, 3] = total[TIME] + total[WAIT]
            found[part, 4], found[part, 5] = total[LAID_CRUISE], total[LAID_TIME]
            found[part, 6], found[part, 7] = total[LENGTH] - total[LAID_LENGTH], total[HEIGHT] / 2
            for axis in range(3):
                lows[part, axis], highs[part, axis] = box.low[axis], box.high[axis]
    return sums, low, high


cdef void _part(
    const Moves* moves, Py_ssize_t first, Py_ssize_t count, double* sums, Box* box
) noexcept nogil:
    """Add up a part, of which numpy takes the first move by itself."""
    cdef double rest[ALL]
    cdef Py_ssize_t which
    _add_few(moves, first, 1, sums, box)
    _add(moves, first + 1, count - 1, rest, box)
    for which in range(ALL):
        sums[which] += rest[which]


cdef void _add(const Moves* moves, Py_ssize_t first, Py_ssize_t count, double* sums, Box* box) noexcept nogil:
    """Add up some moves as numpy does: many as the sum of two halves."""
    cdef double more[ALL]
    cdef Py_ssize_t half, which
    if count <= AT_ONCE:
        _add_few(moves, first, count, sums, box)
        return
    half = count // 2
    half -= half % LANES
    _add(moves, first, half, sums, box)
    _add(moves, first + half, count - half, more, box)
    for which in range(ALL):
        sums[which] += more[which]


cdef void _add_few(
    const Moves* moves, Py_ssize_t first, Py_ssize_t count, double* sums, Box* box
) noexcept nogil:
    cdef double values[AT_ONCE]
    cdef const uint8_t* laying = moves.laying + first
    cdef const double* amount
    cdef const double* start
    cdef const double* end
    cdef Py_ssize_t which, move, laid = 0
    for which in range(AMOUNTS):
        sums[which] = _sum(moves.amount[which] + first, count)
    for move in range(count):
        laid += laying[move]
    start, end, amount = moves.start_z + first, moves.end_z + first, moves.amount[LENGTH] + first
    for move in range(count):
        values[move] = (start[move] + end[move]) * amount[move] * laying[move]
    sums[HEIGHT] = _sum(values, count)
    for which in range(LAID):
        if laid == count:
            sums[AMOUNTS + which] = sums[which]
            continue
        amount = moves.amount[which] + first
        for move in range(count):
            values[move] = amount[move] * laying[move]
        sums[AMOUNTS + which] = _sum(values, count)
    for which in range(3):
        _box(
            moves.corner[2 * which] + first, moves.corner[2 * which + 1] + first, laying, count, laid,
            &box.low[which], &box.high[which],
        )


cdef inline double _sum(const double* values, Py_ssize_t count) noexcept nogil:
    cdef double lane[LANES]
    cdef double total = 0.0
    cdef Py_ssize_t rows = count // LANES, row, which, place
    if rows:
        for which in range(LANES):
            lane[which] = values[which]
        for row in range(1, rows):
            for which in range(LANES):
                lane[which] += values[row * LANES + which]
        total = ((lane[0] + lane[1]) + (lane[2] + lane[3])) + ((lane[4] + lane[5]) + (lane[6] + lane[7]))
    for place in range(rows * LANES, count):
        total += values[place]
    return total


cdef inline void _box(
    const double* corner,
    const double* across,
    const uint8_t* laying,
    Py_ssize_t count,
    Py_ssize_t laid,
    double* low,
    double* high,
) noexcept nogil:
    """Let the least and the most reach both corners of the moves that lay clay."""
    cdef double least = low[0], most = high[0]
    cdef Py_ssize_t move
    if laid == count:
        _reach(across, count, low, high)
        # most often each corner is the one before, across
        if count and memcmp(corner + 1, across, (count - 1) * sizeof(double)):
            _reach(corner, count, low, high)
        else:
            _reach(corner, min(count, 1), low, high)
    elif laid:
        for move in range(count):
            if laying[move]:
                least = min(least, corner[move], across[move])
                most = max(most, corner[move], across[move])
        low[0], high[0] = least, most


cdef inline void _reach(const double* value, Py_ssize_t count, double* low, double* high) noexcept nogil:
    cdef double least[LANES]
    cdef double most[LANES]
    cdef double now
    cdef Py_ssize_t rows = count // LANES, row, which
    for which in range(LANES):
        least[which], most[which] = low[0], high[0]
    for row in range(rows):
        for which in range(LANES):
            now = value[row * LANES + which]
            least[which] = now if now < least[which] else least[which]
            most[which] = now if now > most[which] else most[which]
    for which in range(count - rows * LANES):
        now = value[rows * LANES + which]
        least[which] = now if now < least[which] else least[which]
        most[which] = now if now > most[which] else most[which]
    for which in range(LANES):
        low[0] = least[which] if least[which] < low[0] else low[0]
        high[0] = most[which] if most[which] > high[0] else high[0]


def flags(start, end, before):
    """As gpost.survey.bycolumns.flags."""
    cdef Py_ssize_t count = end.shape[1], move
    cdef const double[:, :] starts = in_line(start), ends = in_line(end)
    joined, step = np.empty(count, np.bool_), np.empty(count, np.bool_)
    sloped, apart = np.empty(count, np.bool_), np.empty(count, np.bool_)
    if not count:
        return joined, step, sloped, apart
    cdef uint8_t[::1] is_joined = joined.view(np.uint8), is_step = step.view(np.uint8)
    cdef uint8_t[::1] is_sloped = sloped.view(np.uint8), is_apart = apart.view(np.uint8)
    cdef const double* x = &starts[0, 0]
    cdef const double* y = &starts[1, 0]
    cdef const double* z = &starts[2, 0]
    cdef const double* end_x = &ends[0, 0]
    cdef const double* end_y = &ends[1, 0]
    cdef const double* end_z = &ends[2, 0]
    cdef double from_x = before[0], from_y = before[1], from_z = before[2], rise
    cdef double place = SAME_PLACE_MM, height = SAME_HEIGHT_MM, clear = CLEAR_STEP_MM, lift = LIFT_MM
    cdef bint goes_on
    with nogil:
        for move in range(count):
            if move:
                from_x, from_y, from_z = end_x[move - 1], end_y[move - 1], end_z[move - 1]
            rise = fabs(z[move] - from_z)
            goes_on = (fabs(x[move] - from_x) <= place) & (fabs(y[move] - from_y) <= place)
            is_joined[move] = goes_on
            is_step[move] = goes_on & (rise <= clear) & (rise > height)
            is_sloped[move] = fabs(end_z[move] - (from_z if is_step[move] else z[move])) > height
            is_apart[move] = (not goes_on) | (rise > lift)
    return joined, step, sloped, apart


def wound(path, centre, lean, double turn_mm, double before, double furthest):
    """As gpost.survey.bycolumns.wound."""
    cdef Py_ssize_t count = len(path), move, point
    cdef const double[:, :] starts = in_line(path.start), ends = in_line(path.end)
    cdef const double[::1] length = path.length_mm
    cdef const uint8_t[::1] apart = path.apart.view(np.uint8)
    cdef const double* x = &ends[0, 0]
    cdef const double* y = &ends[1, 0]
    cdef double centre_x = centre[0], centre_y = centre[1], lean_x = lean[0], lean_y = lean[1]
    cdef double along = 0.0, part
    room = count + 1 + np.count_nonzero(path.apart[1:])
    seen = np.empty((2, room))
    cdef double[:, ::1] off = seen
    with nogil:
        off[0, 0], off[1, 0] = starts[0, 0] - centre_x, starts[1, 0] - centre_y
        point = 1
        for move in range(count):
            if move and apart[move]:
                part = along / turn_mm
                off[0, point] = starts[0, move] - lean_x * part - centre_x
                off[1, point] = starts[1, move] - lean_y * part - centre_y
                point += 1
            along += length[move]
            part = along / turn_mm
            off[0, point] = x[move] - lean_x * part - centre_x
            off[1, point] = y[move] - lean_y * part - centre_y
            point += 1
    # numpy's own: two libraries may differ in an angle's last bit
    angles = np.arctan2(seen[1], seen[0])
    wound, most, turn = np.empty(count), np.empty(count + 1), np.empty(count, np.int64)
    cdef const double[::1] angle = angles
    cdef double[::1] winds = wound, upto = most
    cdef int64_t[::1] turns = turn
    cdef double total = 0.0, here, far = furthest, full = FULL_TURN, turned, now
    upto[0] = furthest
    turned = furthest / full
    with nogil:
        point = 0
        for move in range(count):
            if move and apart[move]:
                point += 1
                total += _wrapped(angle[point] - angle[point - 1], full)
            point += 1
            total += _wrapped(angle[point] - angle[point - 1], full)
            here = total + before
            winds[move] = here
            far = max(far, fabs(here))
            upto[move + 1] = far
            now = far / full
            turns[move] = <int64_t>((now + turned) / 2)
            turned = now
    return wound, most, turn


cdef inline double _wrapped(double angle, double full) noexcept nogil:
    """A difference of two angles brought to half a turn either way."""
    if angle > full / 2:
        return angle - full
    return angle + full if angle < -full / 2 else angle
