#!/usr/bin/env python3
"""Reference numbers for the bench tests, from SciPy alone.

Writes assay_reference.json beside this file:

    python3 -m pip install -r tests/reference/requirements.txt
    python3 tests/reference/assay_reference.py

Everything is without dimension: lengths by L, forces by B / L^2 with B the bending stiffness (at
the tip where it varies). Nothing here uses bendwise.
"""

import json
import pathlib
import platform

import numpy
import scipy
from scipy.integrate import quad, solve_bvp, solve_ivp
from scipy.linalg import eigh
from scipy.optimize import brentq
from scipy.special import ellipk, ellipkinc, jv, yv

TOLERANCE = 1e-10


def dead_load(degrees):
    """Load square to the clamp's axis that turns the tip of a cantilever by an angle, by elliptic
    integrals (Bisshopp and Drucker 1945, Q. Appl. Math. 3:272, from memory): with
    k^2 = (1 + sin a)/2, sqrt(P) = K(k) - F(asin(1/(k sqrt 2)), k)."""
    m = (1 + numpy.sin(numpy.radians(degrees))) / 2
    return (ellipk(m) - ellipkinc(numpy.arcsin(numpy.sqrt(0.5 / m)), m)) ** 2


def follower_load(degrees):
    """Load square to the tip that turns it by an angle a: from the first integral of the elastica,
    sqrt(2 P) = integral of du / sqrt(sin u) from 0 to a (u = t^2 takes the root away)."""
    a = numpy.radians(degrees)
    value, _ = quad(lambda t: 2 * t / numpy.sqrt(numpy.sin(t * t)) if t > 0 else 2.0, 0, numpy.sqrt(a))
    return value**2 / 2


def cantilever_bvp(load, direction, about):
    """Tip angle of the elastica under a dead load in the direction `direction` from the axis'
    normal, by SciPy's solver of boundary value problems, on the branch with a tip angle of about
    `about`."""

    def rates(_, y):
        return numpy.vstack([y[1], -load * numpy.cos(y[0] - direction)])

    def ends(a, b):
        return numpy.array([a[0], b[1]])

    s = numpy.linspace(0, 1, 201)
    guess = numpy.vstack([about * s * (2 - s), 2 * about * (1 - s)])
    found = solve_bvp(rates, ends, s, guess, tol=TOLERANCE, max_nodes=100000)
    assert found.success, found.message
    return found.y[0, -1]


def buckled_push(shortening, pinned):
    """Push force of a buckled column, clamped at s = 0, whose other end has come nearer by
    `shortening` and is pinned (held on the axis) or free to move across; boundary value problem
    with the push force P and the side force Q as unknown parameters."""

    def rates(_, y, p):
        push, side = p[0], p[1] if pinned else 0.0
        angle, curvature = y[0], y[1]
        return numpy.vstack(
            [
                curvature,
                -push * numpy.sin(angle) + side * numpy.cos(angle),
                numpy.cos(angle),
                numpy.sin(angle),
            ]
        )

    def ends(a, b, p):
        common = [a[0], a[2], a[3], b[1], b[2] - (1 - shortening)]
        return numpy.array(common + ([b[3]] if pinned else []))

    s = numpy.linspace(0, 1, 401)
    if pinned:
        k = brentq(lambda x: numpy.tan(x) - x, 4.4, 4.6)
        # w = A (sin k x - x sin k), x from the pinned end; shortening = 4.81 A^2.
        amplitude = numpy.sqrt(shortening / 4.81)
        x = 1 - s
        slope = -amplitude * (k * numpy.cos(k * x) - numpy.sin(k))
        start = [k * k, -0.98 * amplitude * k * k]
    else:
        k = numpy.pi / 2
        slope = 2 * numpy.sqrt(shortening) * numpy.sin(k * s)
        start = [k * k]
    guess = numpy.vstack([slope, numpy.gradient(slope, s), s, numpy.cumsum(slope) / len(s)])
    best = None
    for sign in (1, -1) if pinned else (1,):
        p = numpy.array([start[0]] + ([sign * start[1]] if pinned else []))
        found = solve_bvp(rates, ends, s, guess, p, tol=1e-9, max_nodes=100000)
        if found.success and found.p[0] > 1 and numpy.abs(found.y[0]).max() > 0.01:
            if best is None or found.p[0] < best:
                best = found.p[0]
    assert best is not None
    return best


def tapered_column(growth, pinned):
    """Buckling load over B(tip)/L^2 of a column whose stiffness grows linearly from the tip to the
    clamp by the factor `growth`: finite elements (Hermite cubics), generalised eigenvalue."""
    count = 200
    h = 1 / count
    size = 2 * (count + 1)
    bend, axial = numpy.zeros((size, size)), numpy.zeros((size, size))
    points, weights = numpy.polynomial.legendre.leggauss(4)
    for e in range(count):
        for point, weight in zip(points, weights):
            u, w = (point + 1) / 2, weight / 2 * h
            second = numpy.array(
                [(12 * u - 6) / h**2, (6 * u - 4) / h, (6 - 12 * u) / h**2, (6 * u - 2) / h]
            )
            first = numpy.array(
                [
                    (6 * u * u - 6 * u) / h,
                    3 * u * u - 4 * u + 1,
                    (6 * u - 6 * u * u) / h,
                    3 * u * u - 2 * u,
                ]
            )
            stiffness = 1 + (growth - 1) * (e + u) * h
            at = slice(2 * e, 2 * e + 4)
            bend[at, at] += stiffness * w * numpy.outer(second, second)
            axial[at, at] += w * numpy.outer(first, first)
    # The tip is node 0; the clamp is the last node.
    free = [i for i in range(size - 2) if not (pinned and i == 0)]
    pick = numpy.ix_(free, free)
    return 1 / eigh(axial[pick], bend[pick], eigvals_only=True)[-1]


def exponential_column(growth, pinned):
    """Buckling load over B(tip)/L^2 of a column whose stiffness grows from the tip to the clamp as
    B = exp(k x), exp(k) = growth. The bending moment M = H x - P w (w deflection from the tip, H
    side force) obeys M'' + P exp(-k x) M = 0, so M = a J0(z) + b Y0(z) with
    z = 2 sqrt(P) / k exp(-k x / 2), and M = 0 at the tip. At the clamp w' = 0. Free: H = 0, so
    M' = 0 there. Pinned: w = 0 there too, so M = H and M' = H."""
    k = numpy.log(growth)

    def defect(load):
        z0, z1 = 2 * numpy.sqrt(load) / k, 2 * numpy.sqrt(load) / k * numpy.exp(-k / 2)
        a, b = yv(0, z0), -jv(0, z0)
        moment = a * jv(0, z1) + b * yv(0, z1)
        slope = (-a * jv(1, z1) - b * yv(1, z1)) * (-k / 2 * z1)
        return moment - slope if pinned else slope

    loads = numpy.geomspace(0.5, 20.5 * growth, 20000)
    values = numpy.array([defect(load) for load in loads])
    first = numpy.argmax(values[1:] * values[:-1] < 0)
    return brentq(defect, loads[first], loads[first + 1], xtol=1e-12, rtol=1e-14)


def tapered_three_point(low, high):
    """Deflection under a unit load in the middle of a span of 1 on two supports, of a beam whose
    fourth root of stiffness grows linearly along the span from `low` to `high`: unit-load
    integral by SciPy's quadrature."""

    def integrand(x):
        moment = 0.5 * min(x, 1 - x)
        return moment**2 / (low + (high - low) * x) ** 4

    return quad(integrand, 0, 0.5, epsabs=1e-13)[0] + quad(integrand, 0.5, 1, epsabs=1e-13)[0]


def two_point():
    """Largest curvature times the distance of the plates in two-point bending: twice the integral
    of sqrt(cos a) from 0 to a quarter turn."""
    value, _ = quad(
        lambda t: numpy.sqrt(numpy.cos(numpy.pi / 2 - t * t)) * 2 * t, 0, numpy.sqrt(numpy.pi / 2)
    )
    return 2 * value


# A wire for the fits: [mm from the tip, mN mm^2]; the logarithm of the stiffness is linear between
# stations and constant outside them.
BENCH_WIRE = [[4, 15], [12, 40], [25, 130], [60, 700], [120, 2500]]


def bench_stiffness(s):
    stations, values = zip(*BENCH_WIRE)
    return numpy.exp(numpy.interp(s, stations, numpy.log(values)))


def three_point_load(station, span, deflection):
    """Load that presses the bench wire down by `deflection` in the middle of a span: unit-load
    integral."""

    def integrand(s):
        moment = 0.5 * (span / 2 - abs(s - station))
        return moment**2 / bench_stiffness(s)

    ends = [station - span / 2, station, station + span / 2]
    kinks = [k for k, _ in BENCH_WIRE if ends[0] < k < ends[2] and k != station]
    cuts = sorted(ends + kinks)
    return deflection / sum(quad(integrand, a, b, epsabs=1e-14)[0] for a, b in zip(cuts, cuts[1:]))


def follower_force(held, degrees):
    """Force square to the tip that turns the tip of the bench wire, held `held` mm behind it: the
    elastica as an initial value problem from the tip, in the tip's frame, where the bending moment
    is the force times the way along the tip's direction."""

    def turned(force):
        def rates(s, y):
            return [force * y[1] / bench_stiffness(s), numpy.cos(y[0])]

        found = solve_ivp(rates, (0, held), [0.0, 0.0], rtol=1e-10, atol=1e-12, max_step=0.1)
        return found.y[0, -1] - numpy.radians(degrees)

    scale = bench_stiffness(0.5 * held) / held**2
    upper = scale
    while turned(upper) < 0:
        upper *= 1.5
    return brentq(turned, 1e-6 * scale, upper, rtol=1e-10)


def bench_buckling(pinned):
    """Load at which the last 10 mm of the bench wire buckle: shooting, with the bending moment
    M = H x - P w from the tip, M'' = -P M / B, M(0) = 0; clamp conditions as in
    exponential_column."""
    length = 10.0

    def defect(load):
        found = solve_ivp(
            lambda x, y: [y[1], -load * y[0] / bench_stiffness(x)],
            (0, length),
            [0.0, 1.0],
            rtol=1e-10,
            atol=1e-12,
            max_step=0.05,
        )
        moment, slope = found.y[:, -1]
        return moment - slope * length if pinned else slope

    low = bench_stiffness(0) / length**2
    loads = numpy.linspace(0.5 * low, 60 * low, 400)
    values = [defect(load) for load in loads]
    first = next(i for i in range(len(loads) - 1) if values[i] * values[i + 1] < 0)
    return brentq(defect, loads[first], loads[first + 1], rtol=1e-10)


def bench_data():
    """What noiseless tests of the bench wire read: mm, degrees, mN."""
    return {
        "wire": BENCH_WIRE,
        "span": 20,
        "three_point": [[s, 0.2, three_point_load(s, 20, 0.2)] for s in range(20, 130, 10)],
        "flexibility": [[h, a, follower_force(h, a)] for h in (5, 10, 20) for a in (30, 45, 90)],
        "tip_load": {"pinned": bench_buckling(True), "free": bench_buckling(False)},
    }


def main():
    for degrees in (45, 60, 90):
        load = follower_load(degrees)
        direction = numpy.radians(degrees)
        assert abs(cantilever_bvp(load, direction, direction) - direction) < 1e-7
    assert abs(cantilever_bvp(dead_load(45), 0.0, 0.8) - numpy.radians(45)) < 1e-7
    numbers = {
        "made_with": {
            "python": platform.python_version(),
            "numpy": numpy.__version__,
            "scipy": scipy.__version__,
        },
        "dead_load": {str(a): dead_load(a) for a in (30, 45, 60, 75)},
        "follower_load": {str(a): follower_load(a) for a in (30, 45, 60, 90)},
        "buckled_push_pinned": {str(d): buckled_push(d, True) for d in (0.01, 0.02, 0.05)},
        "buckled_push_free": {str(d): buckled_push(d, False) for d in (0.01, 0.02, 0.05)},
        "fivefold_column": {
            "pinned": tapered_column(5, True),
            "free": tapered_column(5, False),
            "uniform_pinned": tapered_column(1, True),
        },
        "exponential_column": {
            str(g): {"pinned": exponential_column(g, True), "free": exponential_column(g, False)}
            for g in (2, 10, 100)
        },
        "tapered_three_point": {"1_to_1.5": tapered_three_point(1, 1.5)},
        "two_point": two_point(),
        "bench": bench_data(),
    }
    target = pathlib.Path(__file__).with_name("assay_reference.json")
    target.write_text(json.dumps(numbers, indent=2) + "\n")


if __name__ == "__main__":
    main()
