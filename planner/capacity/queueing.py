"""Waiting in line as formulas: pure functions, any unit of time as long as it is the same throughout.

They speak of a long run at the same load (steady state), with work coming at random. A plan for the coming weeks is
neither; so what they give is an estimate to stand beside the planned waits, never in place of them.

Sources: A. K. Erlang, 1917 (Erlang C); J. F. C. Kingman, 1961 (one machine, any spread of times);
H. Sakasegawa, Annals of the Institute of Statistical Mathematics 29:67-75, 1977 (several machines);
W. J. Hopp and M. L. Spearman, *Factory Physics*, 3rd ed., ch. 7 and 8 (effective times, departures, line limits).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt


@dataclass(frozen=True)
class Effective:
    """Time a job holds its machine, all in all: mean in the caller's unit, and squared coefficient of variation."""

    mean: float
    cv2: float
    availability: float = 1.0


@dataclass(frozen=True)
class Line:
    """A line of jobs in the long run: jobs in it, and time spent, in the caller's units."""

    idle: float  # chance that nobody is there
    wait_chance: float
    queue: float  # jobs waiting
    wait: float
    present: float  # jobs waiting or being served
    stay: float


def erlang_c(load: float, servers: int) -> float:
    """Chance that a job has to wait, with jobs at random, exponential times and like machines.

    Parameters
    ----------
    load
        Machines' worth of work that comes: arrivals a unit of time times mean time a job.
    servers
        Machines in parallel, at least 1.

    Returns
    -------
    float
        0 to 1; 1 from ``load`` = ``servers`` on, when every job waits in the end.

    Raises
    ------
    ValueError
        For a negative load or fewer than one machine.
    """
    if load < 0 or servers < 1:
        raise ValueError(f"load must be 0 or more and servers at least 1, not {load} and {servers}")
    if load >= servers:
        return 1.0
    blocked = 1.0  # Erlang B, by its recursion over the number of machines: no large factorials
    for machines in range(1, servers + 1):
        blocked = load * blocked / (machines + load * blocked)
    used = load / servers
    return blocked / (1 - used * (1 - blocked))


def markov_line(arrivals: float, rate: float, servers: int = 1) -> Line:
    """A line with jobs at random and exponential times (M/M/c), exactly.

    Parameters
    ----------
    arrivals, rate
        Jobs that come, and that one machine does, in a unit of time.
    servers
        Machines in parallel.

    Raises
    ------
    ValueError
        For a rate of 0 or less, or as :func:`erlang_c`.
    """
    if rate <= 0:
        raise ValueError(f"rate must be above 0, not {rate}")
    load = arrivals / rate
    chance = erlang_c(load, servers)
    if load >= servers:
        return Line(0.0, chance, inf, inf, inf, inf)
    term = total = 1.0
    for n in range(1, servers):
        term *= load / n
        total += term
    idle = 1 / (total + term * load / servers / (1 - load / servers))
    wait = chance / (servers * rate - arrivals)
    return Line(idle, chance, arrivals * wait, wait, arrivals * wait + load, wait + 1 / rate)


def vut_wait(ca2: float, ce2: float, utilisation: float, te: float, machines: int = 1) -> float:
    """Mean wait before a group of like machines: variability times utilisation times time (VUT).

    Parameters
    ----------
    ca2, ce2
        Squared coefficients of variation of the times between arrivals and of the effective times.
    utilisation
        Share of the machines' time that is used, 0 or more.
    te
        Mean effective time of a job; the wait is in its unit.
    machines
        Like machines fed from one line. Kingman's for one, Sakasegawa's form for several.

    Returns
    -------
    float
        The wait without the job's own time; infinite from a utilisation of 1 on.

    Raises
    ------
    ValueError
        For a negative figure or fewer than one machine.
    """
    if min(ca2, ce2, utilisation, te) < 0 or machines < 1:
        raise ValueError(f"nothing may be negative, and machines at least 1: {ca2=}, {ce2=}, {utilisation=}, {te=}")
    if utilisation >= 1:
        return inf
    power = sqrt(2 * (machines + 1)) - 1
    return (ca2 + ce2) / 2 * utilisation**power / (machines * (1 - utilisation)) * te


def effective_time(
    mean: float,
    cv: float = 0.0,
    *,
    up: float | None = None,
    down: float = 0.0,
    down_cv: float = 1.0,
    setup: float = 0.0,
    setup_cv: float = 0.0,
    jobs_a_setup: float = 1.0,
) -> Effective:
    """The time a job holds its machine, breakdowns and setups counted in.

    Parameters
    ----------
    mean, cv
        Natural time of a job and its coefficient of variation.
    up, down, down_cv
        Mean time from repair to breakdown, mean repair time and its coefficient of variation. ``up`` None: no breakdowns.
    setup, setup_cv, jobs_a_setup
        Mean setup, its coefficient of variation, and how many jobs there are to a setup, on average and at random.

    Raises
    ------
    ValueError
        For a mean or ``up`` of 0 or less, a negative figure, or fewer than one job a setup.

    Notes
    -----
    *Factory Physics* 8.4: breakdowns strike during a job, ce2 = c0^2 + (1 + cr^2) A (1 - A) mr / t0; setups fall between
    jobs, variance = s0^2 + ss^2 / N + ts^2 (N - 1) / N^2. With both, the time with breakdowns is the natural time of the
    second formula.
    """
    if mean <= 0 or (up is not None and up <= 0) or min(cv, down, down_cv, setup, setup_cv) < 0 or jobs_a_setup < 1:
        raise ValueError("mean and up must be above 0, nothing negative, and at least one job a setup")
    availability = 1.0 if up is None else up / (up + down)
    cv2 = cv**2 + (1 + down_cv**2) * availability * (1 - availability) * down / mean
    te = mean / availability
    if not setup:
        return Effective(te, cv2, availability)
    n = jobs_a_setup
    variance = cv2 * te**2 + (setup_cv * setup) ** 2 / n + setup**2 * (n - 1) / n**2
    with_setup = te + setup / n
    return Effective(with_setup, variance / with_setup**2, availability)


def departure_cv2(ca2: float, ce2: float, utilisation: float, machines: int = 1) -> float:
    """Squared coefficient of variation of the times between departures: the next group's arrivals.

    For one machine u^2 ce2 + (1 - u^2) ca2; for several 1 + (1 - u^2)(ca2 - 1) + u^2 (ce2 - 1) / sqrt(m)
    (*Factory Physics* 8.5). Parameters as :func:`vut_wait`; a utilisation above 1 counts as 1.
    """
    u2 = min(utilisation, 1.0) ** 2
    return 1 + (1 - u2) * (ca2 - 1) + u2 * (ce2 - 1) / sqrt(machines)


def practical_worst_case(jobs: int, rate: float, time: float) -> tuple[float, float]:
    """Throughput and cycle time of a line with so many jobs always in it, when all times are as uneven as can be expected.

    Parameters
    ----------
    jobs
        Work in progress, at least 1.
    rate
        Jobs a unit of time of the slowest station.
    time
        Time of one job through an empty line.

    Returns
    -------
    tuple of float
        Jobs a unit of time, and time a job: their product is ``jobs`` (J. D. C. Little, 1961).
    """
    least = rate * time
    return jobs * rate / (least + jobs - 1), time + (jobs - 1) / rate
