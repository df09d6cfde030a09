# cython: language_level=3, boundscheck=False, wraparound=False, initializedcheck=False, cdivision=True
"""Follows the machine through an ordinary block in one pass over its words: compiled, where one could be.

It gives what gpost/motion/bycolumns.py gives, to the last bit. A block with anything that is rare, or may be
refused, is done there: inches, arcs, factors, homing behind a move. Nothing is multiplied here, so that no
compiler can round a product and a sum at once.
"""

from libc.math cimport fabs
from libc.stdint cimport int64_t, uint8_t

from dataclasses import replace

import numpy as np

from gpost.motion import bycolumns, codes
from gpost.motion.lines import FASTEST, LONGEST_MM, MOST_E, SLOWEST
from gpost.motion.modes import air_after, relief_after
from gpost.motion.way import Way

cdef enum:  # kinds of words; of the first five the value counts
    E = 3  # behind X, Y and Z
    F = 4
    CODE_G = 5
    CODE_M = 6
    TOOL = 7
    NUMBER = 8
    CENTRE = 9  # I, J, K and R, of arcs
    ORIGIN = 10  # L and P, by which a G10 sets an origin or a tool
    OTHER = 11

cdef enum:
    LETTERS = 128
    AXES = 15  # bits of X, Y, Z and E
    NOT_SAID = -1
    MOST_M = 1000

cdef enum:  # the G codes that are followed here, beside G0 and G1
    DWELL = 4
    RELIEVE = 10
    UNRELIEVE = 11
    MILLIMETRES = 21
    HOME = 28
    ABSOLUTE = 90
    RELATIVE = 91
    SET_REGISTER = 92

cdef enum:  # what an M code does
    RARE = 0  # or none was said
    FREE = 1  # nothing that is followed
    PLAIN = 2  # the same; it has no words of its own
    E_ABSOLUTE = 3
    E_RELATIVE = 4

cdef uint8_t KIND[LETTERS]
cdef uint8_t DOES[MOST_M]
cdef double MOST[5]
cdef double LEAST_FEED = SLOWEST
_NONE = np.zeros(0, np.int64)


def _fill_tables():
    for code in range(LETTERS):
        KIND[code] = OTHER
    for kind, letters in enumerate(("X", "Y", "Z", "E", "F", "G", "M", "T", "N", "IJKR", "LP")):
        for letter in letters:
            KIND[ord(letter)] = kind
    for kind, most in enumerate((LONGEST_MM, LONGEST_MM, LONGEST_MM, MOST_E, FASTEST)):
        MOST[kind] = most
    rare = {codes.FEED_FACTOR, codes.FLOW_FACTOR, codes.CLAY_ON, codes.CLAY_ON_REVERSE, codes.CLAY_OFF}
    rare |= {codes.TOOL_CHANGE_M, *codes.REFUSED_M}
    for code in range(MOST_M):
        DOES[code] = RARE if 10 * code in rare else PLAIN if 10 * code in codes.PLAIN_M else FREE
    DOES[codes.EXTRUDE_ABSOLUTE // 10] = E_ABSOLUTE
    DOES[codes.EXTRUDE_RELATIVE // 10] = E_RELATIVE


_fill_tables()


cdef struct Machine:
    double[4] register
    double[4] offset
    double[3] at
    double[3] home
    double feed_mm_min
    bint[3] known
    bint relative
    bint e_relative
    bint axis_mode_sets_e
    int motion


cdef struct Line:
    double[5] value
    int stands  # a bit for each kind of word
    int motion
    int distance
    int e_mode
    int does  # of its M code
    bint sets  # G92
    int in_mm  # how often it says G21
    int acts  # another G code of its own line, or 0


cdef struct Words:
    const int64_t* line
    const uint8_t* letter
    const double* value
    Py_ssize_t count


cdef struct Columns:
    uint8_t* is_move
    int64_t* before
    int64_t* move_line
    int64_t* motion
    double* point[3]  # from where the block begins on
    double* e_mm
    double* feed
    int64_t* code
    int64_t* feed_index
    Py_ssize_t lines
    Py_ssize_t moves
    Py_ssize_t codes
    Py_ssize_t feeds


def find_way(block, state, machine):
    """As gpost.motion.bycolumns.find_way, which is asked for every other block."""
    if state.scale != 1.0 or state.motion not in (0, 1):
        return bycolumns.find_way(block, state, machine)
    lines, words, counts = block.lines, block.words, block.counts
    room = min(lines, sum(counts[ord(letter)] for letter in "XYZE"))  # most lines may be empty
    is_move, point = np.zeros(lines, np.bool_), np.empty((3, room + 1))
    before, (move_line, motion) = np.empty(lines, np.int64), np.empty((2, room), np.int64)
    e_mm, feed = np.empty((2, room))
    code = np.empty(counts[ord("G")] + counts[ord("M")], np.int64)
    feed_index = np.empty(counts[ord("F")], np.int64)
    cdef Columns to
    to.is_move, to.before, to.move_line = _flags(is_move.view(np.uint8)), _ints(before), _ints(move_line)
    to.motion, to.e_mm, to.feed = _ints(motion), _floats(e_mm), _floats(feed)
    to.point[0], to.point[1], to.point[2] = _floats(point[0]), _floats(point[1]), _floats(point[2])
    to.code, to.feed_index = _ints(code), _ints(feed_index)
    to.lines, to.moves, to.codes, to.feeds = lines, 0, 0, 0
    cdef const int64_t[::1] line = words.line
    cdef const uint8_t[::1] letter = words.letter
    cdef const double[::1] value = words.value
    cdef Words said = Words(&line[0], &letter[0], &value[0], line.shape[0])
    cdef Machine now = _machine(state, machine)
    cdef bint ordinary
    with nogil:
        ordinary = _follow(said, &now, &to)
    if not ordinary:
        return bycolumns.find_way(block, state, machine)
    moves, code = to.moves, code[: to.codes]
    (other_line, other), (m_line, m) = (_codes(words, code, letter) for letter in b"GM")
    return Way(
        is_move, before, move_line[:moves], motion[:moves], point[:, :moves], point[:, 1 : moves + 1],
        e_mm[:moves], feed[:moves], feed_index[: to.feeds], other_line, other, m_line, m, _NONE, _NONE,
        _after(now, state, block, other, m_line, m),
    )


cdef uint8_t* _flags(uint8_t[::1] column):
    return &column[0]


cdef int64_t* _ints(int64_t[::1] column):
    return &column[0]


cdef double* _floats(double[::1] column):
    return &column[0]


def _codes(words, index, letter):
    """(line, code) of the codes with this letter among some."""
    index = index[words.letter.take(index) == letter]
    return words.line.take(index), words.value.take(index).astype(np.int64) * 10


cdef Machine _machine(state, settings):
    cdef Machine machine
    machine.home = settings.home.x_mm, settings.home.y_mm, settings.home.z_mm
    for axis in range(4):
        machine.register[axis], machine.offset[axis] = state.register[axis], state.offset[axis]
    for axis in range(3):
        machine.known[axis] = state.known[axis]
        machine.at[axis] = machine.register[axis] + machine.offset[axis]
    machine.feed_mm_min, machine.motion = state.feed_mm_min, state.motion
    machine.relative, machine.e_relative = state.relative, state.e_relative
    machine.axis_mode_sets_e = settings.axis_mode_sets_e
    return machine


cdef _after(Machine machine, state, block, other, m_line, m):
    air, relief = air_after(state.air, block, m_line, m), relief_after(state.pressure_relief, other)
    return replace(
        state, register=tuple(machine.register), offset=tuple(machine.offset), motion=machine.motion,
        known=tuple(bool(known) for known in machine.known), feed_mm_min=machine.feed_mm_min,
        relative=bool(machine.relative), e_relative=bool(machine.e_relative), air=air, pressure_relief=relief,
    )


cdef bint _follow(Words words, Machine* machine, Columns* to) noexcept nogil:
    """Fill in the columns; whether the block is an ordinary one."""
    cdef Py_ssize_t line, first, word = 0
    cdef int axis
    cdef Line said
    for axis in range(3):
        to.point[axis][0] = machine.at[axis]
    for line in range(to.lines):
        to.before[line] = to.moves
        said.stands = 0
        said.motion = said.distance = said.e_mode = NOT_SAID
        said.does = RARE
        said.sets = said.in_mm = said.acts = 0
        first = word
        while word < words.count and words.line[word] == line:
            if not _take(words.letter[word], words.value[word], word, first, &said, to):
                return False
            word += 1
        if word > first and not _carry_out(line, &said, machine, to):
            return False
    return True


cdef inline bint _take(
    uint8_t letter, double value, Py_ssize_t word, Py_ssize_t first, Line* said, Columns* to
) noexcept nogil:
    """Note one word of a line; whether it is an ordinary one. NaN, for no number, is within no bound."""
    cdef int kind = KIND[letter], bit = 1 << kind
    if kind <= F:
        if said.stands & bit or not (said.acts == HOME or fabs(value) <= MOST[kind]):
            return False
        said.value[kind] = value
        if kind == F:
            to.feed_index[to.feeds] = word
    elif kind == CODE_G:
        return _take_g(value, word, said, to)
    elif kind == CODE_M:
        return _take_m(value, word, said, to)
    elif kind == NUMBER and (word > first or value != value):
        return False
    said.stands |= bit
    return True


cdef inline bint _take_g(double value, Py_ssize_t word, Line* said, Columns* to) noexcept nogil:
    """As _take, of a G code; two of one kind may not share a line."""
    cdef int code
    if not 0 <= value <= SET_REGISTER:
        return False
    code = <int>value
    if code != value:
        return False
    if code <= 1:
        if said.motion != NOT_SAID:
            return False
        said.motion = code
        return True
    to.code[to.codes] = word
    to.codes += 1
    if code == ABSOLUTE or code == RELATIVE:
        if said.distance != NOT_SAID:
            return False
        said.distance = code == RELATIVE
        return True
    if code == MILLIMETRES:
        said.in_mm += 1
        return said.in_mm == 1
    if said.sets or said.acts:
        return False
    if code == SET_REGISTER:
        said.sets = True
        return True
    said.acts = code
    return code == DWELL or code == RELIEVE or code == UNRELIEVE or code == HOME


cdef inline bint _take_m(double value, Py_ssize_t word, Line* said, Columns* to) noexcept nogil:
    """As _take, of an M code, of which a line may have one."""
    cdef int code
    if said.does != RARE or not 0 <= value < MOST_M:
        return False
    code = <int>value
    if code != value:
        return False
    said.does = DOES[code]
    if said.does == E_ABSOLUTE or said.does == E_RELATIVE:
        said.e_mode = said.does == E_RELATIVE
    to.code[to.codes] = word
    to.codes += 1
    return said.does != RARE


cdef inline bint _carry_out(Py_ssize_t line, Line* said, Machine* machine, Columns* to) noexcept nogil:
    """Do what a line says, in the order of its kinds and not of its words; whether it is an ordinary one."""
    cdef bint explicit = said.motion != NOT_SAID, claims = said.does != RARE or said.sets or said.acts
    cdef int axes = said.stands & AXES
    if explicit:
        if said.sets or said.acts:
            return False
        machine.motion = said.motion
    if claims or said.stands >> TOOL:
        if not _may_claim(said, explicit):
            return False
    if said.distance != NOT_SAID:
        machine.relative = said.distance
        if machine.axis_mode_sets_e:
            machine.e_relative = said.distance
    if said.e_mode != NOT_SAID:
        machine.e_relative = said.e_mode
    if said.stands >> F & 1 and (explicit or not claims):
        if not said.value[F] >= LEAST_FEED:
            return False
        machine.feed_mm_min = said.value[F]
        to.feeds += 1
    if said.sets:
        _set(said, machine)
    elif said.acts == HOME:
        if to.moves:
            return False
        _home(axes, machine, to)
    elif axes and (explicit or not claims):
        to.is_move[line] = True
        to.move_line[to.moves] = line
        _move(said, machine, to)
    return True


cdef bint _may_claim(Line* said, bint explicit) noexcept nogil:
    """Whether the codes of a line have the words that are usual beside them."""
    cdef bint axes = (said.stands & AXES) != 0, has_m = said.does != RARE
    if said.stands >> TOOL & 1 and not has_m:
        return False
    if said.stands >> CENTRE & 1 and (explicit or not has_m):
        return False
    if said.does == PLAIN and axes and not explicit:
        return False
    if said.sets:
        return axes
    if said.acts == HOME:
        return not said.stands >> E & 1
    return said.acts == 0 or not (axes or said.acts == RELIEVE and said.stands >> ORIGIN & 1)


cdef inline void _set(Line* said, Machine* machine) noexcept nogil:
    """G92: the offset is the machine's position less the new register."""
    cdef int axis
    for axis in range(3):
        if said.stands >> axis & 1:
            machine.offset[axis] = machine.register[axis] + machine.offset[axis] - said.value[axis]
            machine.register[axis] = said.value[axis]
            _place(machine, axis)
    if said.stands >> E & 1:
        machine.register[E] = said.value[E]


cdef void _home(int axes, Machine* machine, Columns* to) noexcept nogil:
    """Home the axes that are named, or all, before the block's first move: it starts there."""
    cdef int axis
    for axis in range(3):
        if not axes or axes >> axis & 1:
            machine.register[axis] = machine.at[axis] = to.point[axis][0] = machine.home[axis]
            machine.offset[axis], machine.known[axis] = 0.0, True


cdef inline void _place(Machine* machine, int axis) noexcept nogil:
    """Where an axis stands by its register."""
    machine.at[axis] = machine.register[axis]
    if machine.offset[axis] != 0:
        machine.at[axis] += machine.offset[axis]


cdef inline void _move(Line* said, Machine* machine, Columns* to) noexcept nogil:
    """One more move, by the axis words of its line."""
    cdef int axis
    cdef double pushed = 0
    for axis in range(3):
        if said.stands >> axis & 1:
            if machine.relative:
                machine.register[axis] += said.value[axis]
            else:
                machine.register[axis] = said.value[axis]
                machine.known[axis] = True
            _place(machine, axis)
        to.point[axis][to.moves + 1] = machine.at[axis]
    if said.stands >> E & 1:
        if machine.e_relative:
            pushed = said.value[E]
            machine.register[E] += pushed
        else:
            pushed = said.value[E] - machine.register[E]
            machine.register[E] = said.value[E]
    to.e_mm[to.moves], to.feed[to.moves] = pushed, machine.feed_mm_min
    to.motion[to.moves] = machine.motion
    to.moves += 1
