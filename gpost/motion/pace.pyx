# cython: language_level=3, boundscheck=False, wraparound=False, initializedcheck=False, cdivision=True
"""Lengths and directions of moves, the speeds that corners allow, and times: compiled, where one could be.

It gives what gpost/motion/pacecolumns.py gives, to the last bit. In most loops no step hangs on the one
before, so that a processor does several at a time.
"""

from libc.float cimport DBL_MIN
from libc.math cimport INFINITY, sqrt
from libc.stdint cimport uint8_t

import numpy as np

from gpost.common.inline import in_line
from gpost.motion.pacecolumns import NOWHERE_MM, REVERSAL

cdef double NOWHERE = NOWHERE_MM, REVERSED = REVERSAL


cdef struct Axes:  # the rows of an array (3, m)
    const double* x
    const double* y
    const double* z


cdef inline Axes _axes(const double[:, :] rows) noexcept nogil:
    return Axes(&rows[0, 0], &rows[1, 0], &rows[2, 0])


def straight(start, end):
    """As gpost.motion.pacecolumns.straight."""
    cdef Py_ssize_t count = end.shape[1]
    xy, length, direction = np.empty(count, np.bool_), np.empty(count), np.empty((3, count))
    cdef const double[:, :] starts = in_line(start), ends = in_line(end)
    cdef double[:, ::1] directions = direction
    cdef double[::1] lengths = length
    cdef uint8_t[::1] flat = xy.view(np.uint8)
    if count:
        with nogil:
            _measure(starts, ends, directions, &lengths[0], &flat[0], NOWHERE)
    return xy, length, direction


cdef void _measure(
    const double[:, :] starts,
    const double[:, :] ends,
    double[:, ::1] directions,
    double* length,
    uint8_t* flat,
    double nowhere,
) noexcept nogil:
    cdef Py_ssize_t move
    cdef Axes start = _axes(starts), end = _axes(ends)
    cdef double* to_x = &directions[0, 0]
    cdef double* to_y = &directions[1, 0]
    cdef double* to_z = &directions[2, 0]
    cdef double dx, dy, dz, square, path, nowhere_2 = nowhere * nowhere
    cdef int still = 0
    for move in range(starts.shape[1]):
        dx, dy, dz = end.x[move] - start.x[move], end.y[move] - start.y[move], end.z[move] - start.z[move]
        square = dx * dx + dy * dy
        flat[move] = square > nowhere_2
        path = sqrt(square + dz * dz)
        length[move], to_x[move], to_y[move], to_z[move] = path, dx / path, dy / path, dz / path
    for move in range(starts.shape[1]):
        still |= length[move] <= nowhere
    if still:
        for move in range(starts.shape[1]):
            if length[move] <= nowhere:
                length[move] = to_x[move] = to_y[move] = to_z[move] = 0.0


def limits(entry, exit, const double[::1] cruise, exit_before, double cruise_before, double deviation_mm):
    """As gpost.motion.pacecolumns.limits."""
    found = np.empty(len(cruise))
    cdef const double[:, :] enters = in_line(entry), leaves = in_line(exit), before = exit_before
    cdef double[::1] limit = found
    cdef double to_tip = deviation_mm * 0.5
    if len(cruise):
        with nogil:
            _turn(enters, leaves, before, &limit[0], REVERSED)
            _round(&limit[0], &cruise[0], cruise.shape[0], cruise_before, to_tip)
    return found


cdef void _turn(
    const double[:, :] enters,
    const double[:, :] leaves,
    const double[:, :] before,
    double* cosine,
    double reversal,
) noexcept nogil:
    """The cosine of the turn before each move."""
    cdef Py_ssize_t move, axis
    cdef Axes into = _axes(enters), out = _axes(leaves)
    cdef int square = 0
    cdef bint enters_so, left_so
    cosine[0] = before[0, 0] * into.x[0] + before[1, 0] * into.y[0] + before[2, 0] * into.z[0]
    for move in range(1, enters.shape[1]):
        cosine[move] = (
            out.x[move - 1] * into.x[move] + out.y[move - 1] * into.y[move] + out.z[move - 1] * into.z[move]
        )
    for move in range(enters.shape[1]):
        square |= cosine[move] == 0.0
    if square:
        for move in range(enters.shape[1]):
            if cosine[move] == 0.0:
                enters_so = left_so = False
                for axis in range(3):
                    enters_so |= enters[axis, move] != 0.0
                    left_so |= (leaves[axis, move - 1] if move else before[axis, 0]) != 0.0
                if not (enters_so and left_so):
                    cosine[move] = reversal


cdef void _round(
    double* limit, const double* cruise, Py_ssize_t count, double cruise_before, double to_tip_mm
) noexcept nogil:
    """From the cosines to the limits."""
    cdef Py_ssize_t move
    cdef double s
    for move in range(count):
        s = (1.0 + limit[move]) * 0.5
        s = s if s > 0.0 else 0.0
        s = s if s < 1.0 else 1.0
        s = sqrt(s)
        s = s / (1.0 - s) * to_tip_mm
        limit[move] = s if s < cruise[move] else cruise[move]
    limit[0] = limit[0] if limit[0] < cruise_before else cruise_before
    for move in range(1, count):
        limit[move] = limit[move] if limit[move] < cruise[move - 1] else cruise[move - 1]


cdef struct Pending:
    const double* path
    const double* cruise
    const double* limit
    double* at  # where each junction lies
    double* stop  # in the end the stopping length there
    Py_ssize_t count


def settled(
    const double[::1] path,
    const double[::1] cruise,
    const double[::1] limit,
    double end_limit_mm,
    Py_ssize_t most_held,
    double acceleration_mm_s2,
):
    """As gpost.motion.pacecolumns.settled."""
    cdef Py_ssize_t count = path.shape[0], moves
    cdef double[:, ::1] work = np.empty((2, count + 1))
    cdef Pending pending = Pending(&path[0], &cruise[0], &limit[0], &work[0, 0], &work[1, 0], count)
    with nogil:
        moves = max(_look_back(&pending, end_limit_mm), count - most_held, 0)
    times = np.empty(moves)
    cdef double[::1] time = times
    with nogil:
        _look_ahead(&pending, moves)
        _time(&pending, moves, acceleration_mm_s2, &time[0])
    return times, work[1, moves]


cdef Py_ssize_t _look_back(Pending* pending, double end_limit_mm) noexcept nogil:
    """How far each junction's speed lets the machine reach; how many moves nothing to come can slow down."""
    cdef Py_ssize_t move, final = pending.count
    cdef double along = 0.0, reach, here
    for move in range(pending.count):
        pending.at[move] = along
        along += pending.path[move]
    pending.at[pending.count] = along
    reach = end_limit_mm + along
    pending.stop[pending.count] = reach
    for move in range(pending.count - 1, -1, -1):
        here = pending.limit[move] + pending.at[move]
        reach = here if here < reach else reach
        pending.stop[move] = reach
    while final >= 0 and pending.stop[final] > along:
        final -= 1
    return final


cdef void _look_ahead(Pending* pending, Py_ssize_t moves) noexcept nogil:
    cdef Py_ssize_t place
    cdef double least = INFINITY, stop, here
    for place in range(moves + 1):
        stop = pending.stop[place] - pending.at[place]
        here = stop - pending.at[place]
        least = here if here < least else least
        here = least + pending.at[place]
        pending.stop[place] = stop if stop < here else here


cdef void _time(Pending* pending, Py_ssize_t moves, double acceleration, double* time) noexcept nogil:
    """Times of moves; where the junctions lie is no more needed, and gives room for the speeds there."""
    cdef Py_ssize_t move
    cdef const double* stop = pending.stop
    cdef const double* path = pending.path
    cdef const double* cruise = pending.cruise
    cdef double* speed = pending.at
    cdef double twice = 2.0 * acceleration, share = 1.0 / acceleration, ends, peak, steady, spent
    for move in range(moves + 1):
        speed[move] = sqrt(stop[move] * twice)
    for move in range(moves):
        ends = stop[move] + stop[move + 1]
        peak = (path[move] + ends) * 0.5
        peak = peak if peak < cruise[move] else cruise[move]
        steady = ends - 2.0 * peak + path[move]
        peak = sqrt(peak * twice)
        spent = (peak + peak - speed[move] - speed[move + 1]) * share
        peak = peak if peak > DBL_MIN else DBL_MIN
        spent += steady / peak
        time[move] = 0.0 if spent < 0.0 else spent
