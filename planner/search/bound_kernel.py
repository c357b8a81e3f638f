"""The least that each tree of work can cost when time on a machine has a price, by dynamic programming over time.

``cost[node, i]`` is the least price of machine time with which all the work up to a node is over by grid moment ``i``
(moment ``i`` is minute ``i * grid``). With a grid of one minute this is exact; wider grids are for looking for prices.
The last moment of the grid stands for itself and all later time.
"""

from __future__ import annotations

from planner.compiling import compiled, inner
from planner.timetable.lines import before, window_at
from planner.work import NEVER

FIXED, ON_MACHINE, PASSING, OUTSIDE, JOIN = 0, 1, 2, 3, 4
"""What a node is: begun work whose end is known, work on one of some machines, waiting, another firm's work, and an
order that several batches go into."""
INF = 1 << 60
LATER = -1  # chosen: some time after the last moment of the grid


@inner
def on_from(lines, line, t, minutes, cursor, k):
    """As ``after``, for moments that only grow from call to call: ``cursor[k:k + 2]`` remembers where it was."""
    if minutes == 0 or t >= NEVER:
        return t
    hi, i = lines.lo[line + 1], cursor[k]
    while i < hi and lines.end[i] <= t:
        i += 1
    cursor[k] = i
    if i == hi:
        return NEVER
    target = lines.done[i] + max(0, t - lines.start[i]) + minutes
    j = max(i, cursor[k + 1])
    while j < hi and lines.done[j] + lines.end[j] - lines.start[j] < target:
        j += 1
    cursor[k + 1] = j
    return NEVER if j == hi else lines.start[j] + target - lines.done[j]


@inner
def open_from(lines, line, t, cursor, k):
    """As ``first_open``, for moments that only grow from call to call."""
    if t >= NEVER:
        return t
    hi, i = lines.lo[line + 1], cursor[k]
    while i < hi and lines.end[i] <= t:
        i += 1
    cursor[k] = i
    return NEVER if i == hi else max(t, lines.start[i])


@inner
def set_cursors(lines, way, t, cursor):
    cursor[0] = cursor[1] = window_at(lines, way.hand_line, t)
    cursor[2] = cursor[3] = cursor[4] = cursor[7] = window_at(lines, way.attended_line, t)
    cursor[5] = cursor[6] = window_at(lines, way.check_line, t)
    cursor[8] = cursor[9] = window_at(lines, way.run_line, t)


@inner
def way_end(lines, way, t, cursor):
    """Earliest end of work that starts at ``t``; ``t`` only grows from call to call."""
    t = on_from(lines, way.hand_line, t, way.hand_min, cursor, 0)
    if way.first_min > 0:
        t = open_from(lines, way.attended_line, t, cursor, 2)
        t = on_from(lines, way.attended_line, t, way.first_min, cursor, 3)
        t = on_from(lines, way.check_line, t, way.check_min, cursor, 5)
    if way.run_min > 0:
        t = open_from(lines, way.attended_line, t, cursor, 7)
        t = on_from(lines, way.run_line, t, way.run_min, cursor, 8)
    return t


@inner
def left_by(lines, line, minutes, t):
    """The latest moment from which a move is over by ``t``."""
    if minutes == 0:
        return t
    return t - minutes if line < 0 else before(lines, line, t, minutes)


@inner
def cost_before(g, cost, first, x, t, line, grid, lo, n):
    """What all that node ``x`` waits for costs if it starts at ``t`` (INF: impossible)."""
    row = g.node[x]
    if t < row.lower:
        return INF
    total, i = 0, min(n - 1, t // grid)
    for k in range(row.need_lo, row.need_hi):
        total = min(INF, total + cost[g.need[k] - first, i])
    if row.before >= 0 and row.sublots == 0:
        u = left_by(g.lines, line, row.move_min, t)
        total = min(INF, total + cost[row.before - first, min(n - 1, u // grid)]) if u >= lo * grid else INF
    return total


@inner
def put(cost, arg, r, end, grid, n, value, code):
    """All is over by ``end`` at this cost. To the nearest moment of a wide grid."""
    i = min(n - 1, (end + grid // 2) // grid)
    if value < cost[r, i]:
        cost[r, i] = value
        if len(arg) > 0:
            arg[r, i] = code


@inner
def at_price(price, machine, t, grid):
    return price[machine, min(price.shape[1] - 1, (t + grid // 2) // grid)]


@inner
def solve_way(g, price, cost, arg, first, x, a, cursor, grid, lo, n):
    """Starts of node ``x`` on way ``a``, in all open time of the grid."""
    way, wait, last = g.way[a], g.node[x].wait_min, n - 1
    span, m, line, lines = cost.shape[1] * grid, g.way[a].machine, g.way[a].start_line, g.lines
    lower = g.node[x].lower
    set_cursors(lines, way, max(0, lower), cursor)
    for w in range(window_at(lines, line, max(0, lower)), lines.lo[line + 1]):
        begin = max(0, lower, lines.start[w])
        if begin >= last * grid:
            break
        for i in range(begin // grid, min(last, -(-lines.end[w] // grid))):
            t = max(begin, i * grid)
            here = cost_before(g, cost, first, x, t, g.move_line[a], grid, lo, n)
            if here >= INF:
                continue
            end = way_end(lines, way, t, cursor)
            value = here + at_price(price, m, end, grid) - at_price(price, m, t, grid)
            put(cost, arg, x - first, end + wait, grid, n, value, a * span + t)


@inner
def solve_passing(g, cost, arg, first, x, grid, lo, n):
    """A wait, or work of no length: it starts when all is there."""
    for i in range(max(0, g.node[x].lower) // grid, n - 1):
        t = max(g.node[x].lower, i * grid)
        here = cost_before(g, cost, first, x, t, g.node[x].idle_line, grid, lo, n)
        if here < INF:
            put(cost, arg, x - first, t + g.node[x].wait_min, grid, n, here, t)


@inner
def solve_outside(g, cost, arg, first, x, grid, lo, n):
    row = g.node[x]
    for k in range(g.trip_lo[row.service], g.trip_lo[row.service + 1]):
        t = g.trip[k].cutoff
        if t < 0 or t >= (n - 1) * grid or g.run_room[g.trip[k].run] < row.pieces:
            continue
        here = cost_before(g, cost, first, x, t, row.idle_line, grid, lo, n)
        if here < INF:
            put(cost, arg, x - first, g.trip[k].back + row.wait_min, grid, n, here, t)


@inner
def solve_fixed(g, price, cost, arg, first, x, grid, n):
    """Work under way: from 0 to an end that is known at the least."""
    row, value = g.node[x], 0
    if row.way_lo < row.way_hi and g.way[row.way_lo].has_length == 1:
        value = at_price(price, g.way[row.way_lo].machine, row.end - row.wait_min, grid)
    put(cost, arg, x - first, row.end, grid, n, value, row.way_lo * cost.shape[1] * grid)


@inner
def solve_node(g, price, cost, arg, first, x, cursor, grid, lo, n):
    """Fill the node's row from those of what it waits for."""
    row, r = g.node[x], x - first
    for i in range(lo, n):
        cost[r, i] = INF
    after_all = 0
    for k in range(row.need_lo, row.need_hi):
        after_all += cost[g.need[k] - first, n - 1]
    if row.before >= 0 and row.sublots == 0:
        after_all += cost[row.before - first, n - 1]
    if row.what == FIXED:
        solve_fixed(g, price, cost, arg, first, x, grid, n)
    else:
        put(cost, arg, r, (n - 1) * grid, grid, n, after_all, LATER)
    if row.what == PASSING:
        solve_passing(g, cost, arg, first, x, grid, lo, n)
    elif row.what == OUTSIDE:
        solve_outside(g, cost, arg, first, x, grid, lo, n)
    elif row.what == ON_MACHINE:
        for a in range(row.way_lo, row.way_hi):
            if g.way[a].has_length == 1:
                solve_way(g, price, cost, arg, first, x, a, cursor, grid, lo, n)
            else:
                solve_passing(g, cost, arg, first, x, grid, lo, n)
    elif row.what == JOIN:
        for i in range(lo, n - 1):
            put(cost, arg, r, i * grid, grid, n, cost_before(g, cost, first, x, i * grid, -1, grid, lo, n), LATER)
    for i in range(lo + 1, n):
        if cost[r, i - 1] < cost[r, i]:
            cost[r, i] = cost[r, i - 1]
            if len(arg) > 0:
                arg[r, i] = arg[r, i - 1]
    if row.before >= 0 and row.sublots == 1:
        for i in range(n - 1, lo - 1, -1):
            u = i - row.wait_min // grid if i < n - 1 else i
            cost[r, i] = min(INF, cost[r, i] + cost[row.before - first, u]) if u >= lo else INF


@inner
def late_at(g, tree, t):
    total = 0
    for k in range(g.due_lo[tree], g.due_lo[tree + 1]):
        total += g.due[k].weight * max(0, max(t, g.due[k].at) - g.due[k].due)
    return total


@inner
def trace(g, open_min, cost, arg, first, root, moment, use, width, cursor, stack, grid, n):
    """Walk back through what was chosen, adding the machine time that it takes to ``use`` by machine and bucket."""
    stack[0, 0], stack[0, 1], many, last = root, moment, 1, n - 1
    span = cost.shape[1] * grid
    while many > 0:
        many -= 1
        x, i = stack[many, 0], stack[many, 1]
        row, code = g.node[x], arg[x - first, i]
        a, t, line = -1, last * grid, row.idle_line
        if code != LATER:
            a, t = code // span, code % span
            if (row.what == ON_MACHINE or row.what == FIXED) and row.way_lo < row.way_hi and g.way[a].has_length == 1:
                line = g.move_line[a]
                set_cursors(g.lines, g.way[a], t, cursor)
                end = row.end - row.wait_min if row.what == FIXED else way_end(g.lines, g.way[a], t, cursor)
                occupy(open_min, use, g.way[a].machine, t, end, width, grid)
        elif row.what == JOIN:
            t = i * grid
        for k in range(row.need_lo, row.need_hi):
            stack[many, 0], stack[many, 1], many = g.need[k], min(last, t // grid), many + 1
        if row.before >= 0:
            u = last
            if row.sublots == 1:
                u = i - row.wait_min // grid if i < last else last
            elif code != LATER:
                u = min(last, max(0, left_by(g.lines, line, row.move_min, t)) // grid)
            stack[many, 0], stack[many, 1], many = row.before, u, many + 1


@inner
def occupy(open_min, use, machine, start, end, width, grid):
    n = open_min.shape[1]
    a = open_min[machine, min(n - 1, (start + grid // 2) // grid)]
    b = open_min[machine, min(n - 1, (end + grid // 2) // grid)]
    while a < b:
        bucket = a // width
        upto = min(b, (bucket + 1) * width)
        use[machine, bucket] += upto - a
        a = upto


@compiled
def fill_open(g, open_min, grid):
    """Open minutes of each machine before each moment of the grid."""
    for m in range(open_min.shape[0]):
        line, lo = g.machine_line[m], g.lines.lo[g.machine_line[m]]
        w, past = window_at(g.lines, line, 0), 0
        if w < g.lines.lo[line + 1]:
            past = g.lines.done[w] + max(0, 0 - g.lines.start[w])
        for i in range(open_min.shape[1]):
            t = i * grid
            while w < g.lines.lo[line + 1] and g.lines.end[w] <= t:
                w += 1
            if w < g.lines.lo[line + 1]:
                open_min[m, i] = g.lines.done[w] + max(0, t - g.lines.start[w]) - past
            elif w > lo:
                open_min[m, i] = g.lines.done[w - 1] + g.lines.end[w - 1] - g.lines.start[w - 1] - past


@compiled
def fill_prices(open_min, rate, width, price):
    """Price of all open time of each machine before each moment: ``rate`` is that of a minute, by bucket."""
    for m in range(open_min.shape[0]):
        before_it, bucket = 0, 0
        for i in range(open_min.shape[1]):
            while open_min[m, i] >= (bucket + 1) * width:
                before_it += rate[m, bucket] * width
                bucket += 1
            price[m, i] = before_it + rate[m, bucket] * (open_min[m, i] - bucket * width)


@inner
def solve_tree(g, price, cost, arg, tree, cursor, grid, unit, lo, n):
    """Least cost of a tree, and the moment at which its root is over; later than moment ``n - 2`` counts as then."""
    first, root = g.tree_lo[tree], g.tree_lo[tree + 1] - 1
    for x in range(first, root + 1):
        solve_node(g, price, cost, arg, first, x, cursor, grid, lo, n)
    best, at = INF, n - 1
    for i in range(lo, n):
        if cost[root - first, i] < INF:
            value = cost[root - first, i] + unit * late_at(g, tree, i * grid)
            if value < best:
                best, at = value, i
    return best, at


@inner
def first_above(g, tree, grid, limit, lo, n):
    """First moment at which lateness alone costs more than ``limit``."""
    while lo < n:
        mid = (lo + n) >> 1
        if late_at(g, tree, mid * grid) > limit:
            n = mid
        else:
            lo = mid + 1
    return lo


@compiled
def least_costs(g, price, open_min, cost, arg, use, width, cursor, stack, grid, unit, begin, reach):
    """Sum of the least costs of all trees with machine time at ``price`` (in ``unit`` ths of a weighted minute).

    ``begin`` is the first moment of each tree; ``reach`` how far to look, which is put right as far as it is needed.
    Where ``arg`` has rows, what is chosen is noted there, and ``use`` is raised by the minutes it takes.
    """
    total = 0
    for tree in range(len(reach)):
        n = reach[tree]
        best, at = solve_tree(g, price, cost, arg, tree, cursor, grid, unit, begin[tree], n)
        while at == n - 1 and n < cost.shape[1]:
            n = min(cost.shape[1], n + (n - begin[tree]))
            best, at = solve_tree(g, price, cost, arg, tree, cursor, grid, unit, begin[tree], n)
        total += best
        if len(arg) > 0:
            first, root = g.tree_lo[tree], g.tree_lo[tree + 1] - 1
            trace(g, open_min, cost, arg, first, root, at, use, width, cursor, stack, grid, n)
        least = begin[tree] + 2
        enough = first_above(g, tree, grid, 5 * best // (4 * unit) + 1, least, cost.shape[1])
        reach[tree] = min(cost.shape[1], enough + 1)
    return total
