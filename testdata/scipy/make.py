#!/usr/bin/python3
"""Reference readings of a few signals by NumPy and SciPy, for the tests of waveform.

    /usr/bin/python3 make.py > waveform.json

The signals are of our own making, with a fixed seed. Nothing here follows the
code under test: crossings are roots of an interpolant (brentq), integrals are
quadratures (trapezoid, fixed_quad), slopes are polyfit, linregress and
Savitzky-Golay derivatives, levels are counted out.
"""
import hashlib
import json
import sys

import numpy as np
import scipy
from scipy import integrate, interpolate, ndimage, optimize, signal, stats

rng = np.random.RandomState(20)


class Trace:
    def __init__(self, t0, dt, y):
        self.t0, self.dt, self.y = t0, dt, np.asarray(y, float)
        self.t = t0 + dt * np.arange(len(self.y))

    def at(self, t):
        return np.interp(t, self.t, self.y)

    def inside(self, lo, hi):
        return (self.t >= lo) & (self.t <= hi)


def edge(t):
    """A voltage edge of 20 ns to 600 V that overshoots and rings at 40 MHz."""
    y = 300 * (1 + np.tanh(t / 9e-9))
    late = t > 12e-9
    y[late] += 90 * np.exp(-(t[late] - 12e-9) / 60e-9) * np.sin(2 * np.pi * 40e6 * (t[late] - 12e-9))
    return y


def grid(t0, dt, n):
    return t0 + dt * np.arange(n)


t = grid(-300.37e-9, 1e-9, 900)
clean = Trace(t[0], 1e-9, edge(t))
noisy = Trace(t[0], 1e-9, edge(t) + 2.5 * rng.standard_normal(len(t)))
step = 1000 / 256
coarse = Trace(t[0], 1e-9, np.round(noisy.y / step) * step)
u = grid(-250.11e-9, 0.8e-9, 800)
current = Trace(u[0], 0.8e-9, 40 / (1 + np.exp((u - 8e-9) / 4e-9)) + 0.02e9 * (u - u[0]) * (u < 0) + 0.1 * rng.standard_normal(len(u)))
very = Trace(t[0], 1e-9, np.round(noisy.y / (4 * step)) * 4 * step)
traces = {"clean": clean, "noisy": noisy, "coarse": coarse, "very": very, "current": current}


def shortest(s, n):
    """The shortest interval that holds n of the sorted values; where several
    are equally short, the one half way between the first and the last of them."""
    width = np.array([s[k + n - 1] - s[k] for k in range(len(s) - n + 1)])
    ties = np.flatnonzero(width == width.min())
    k = (ties[0] + ties[-1]) // 2
    return s[k], s[k + n - 1]


def shorth(y):
    """Mean out to twice the width of the shortest half from its middle, or the
    width of the shortest three quarters where that half has none."""
    s = np.sort(y)
    lo, hi = shortest(s, len(s) // 2 + 1)
    r = 2 * (hi - lo) or np.subtract(*shortest(s, len(s) * 3 // 4 + 1)[::-1])
    return float(np.mean(s[np.abs(s - (lo + hi) / 2) <= r]))


def mode(y):
    """Centre of gravity of the fullest of 256 bins between the extremes."""
    count, edges, number = stats.binned_statistic(y, y, "count", bins=256)
    means, _, _ = stats.binned_statistic(y, y, "mean", bins=256)
    return float(means[np.argmax(count)])


def roots(tr, level, rising, lo, hi):
    """Instants at which the straight lines between the samples pass the level."""
    out = []
    f = lambda x: tr.at(x) - level
    for k in range(len(tr.t) - 1):
        a, b = tr.y[k] - level, tr.y[k + 1] - level
        if (a < 0 < b) if rising else (a > 0 > b):
            x = optimize.brentq(f, tr.t[k], tr.t[k + 1], xtol=1e-20, rtol=1e-15)
            if lo <= x <= hi:
                out.append(x)
    return out


def levels():
    for name, lo, hi in [("noisy", 0, 250), ("noisy", 500, 900), ("noisy", 310, 900), ("coarse", 0, 250),
                         ("coarse", 500, 900), ("coarse", 310, 900), ("very", 0, 250), ("very", 310, 900), ("current", 400, 800)]:
        y = traces[name].y[lo:hi]
        yield {"signal": name, "from": lo, "to": hi, "shorth": shorth(y), "mode": mode(y),
               "mean": float(np.mean(y)), "std": float(np.std(y, ddof=1))}


def states():
    for name in ["clean", "noisy", "coarse", "very"]:
        y = traces[name].y
        calm = ndimage.median_filter(y, 3)[1:-1]
        mid = (calm.min() + calm.max()) / 2
        yield {"signal": name, "low": shorth(y[y < mid]), "high": shorth(y[y >= mid])}


def crossings():
    for name, level, rising in [("clean", 60, True), ("clean", 540, True), ("noisy", 60, True), ("noisy", 300, True),
                                ("noisy", 610, True), ("noisy", 610, False), ("coarse", 300.1, True), ("current", 36.2, False),
                                ("current", 4, False), ("current", 0.05, True)]:
        tr = traces[name]
        for lo, hi in [(tr.t[0], tr.t[-1]), (-20.05e-9, 80.3e-9), (2.2e-9, 40.7e-9)]:
            x = roots(tr, level, rising, lo, hi)
            yield {"signal": name, "level": level, "rising": rising, "from": lo, "to": hi,
                   "first": x[0] if x else None, "last": x[-1] if x else None}


def bends():
    """Crossings of the cubic spline, and how far a straight line between two
    samples can be from it: dt²/8 times the bend, over the slope."""
    spline = interpolate.CubicSpline(clean.t, clean.y)
    for level in [60, 180, 300, 420, 540]:
        k = np.flatnonzero((clean.y[:-1] < level) & (clean.y[1:] >= level))[0]
        a, b = clean.t[k], clean.t[k + 1]
        x = optimize.brentq(lambda x: spline(x) - level, a, b, xtol=1e-20, rtol=1e-15)
        fine = np.linspace(a, b, 101)
        bound = clean.dt**2 / 8 * np.abs(spline(fine, 2)).max() / np.abs(spline(fine, 1)).min()
        yield {"signal": "clean", "level": level, "first": x, "bound": float(bound)}


SPANS = [(-100.2e-9, 250.6e-9), (-10e-9, 30e-9), (5.03e-9, 5.41e-9), (7.5e-9, 9.7e-9)]


def integrals():
    for name in ["noisy", "current"]:
        tr = traces[name]
        for lo, hi in SPANS:
            x = np.concatenate([[lo], tr.t[(tr.t > lo) & (tr.t < hi)], [hi]])
            yield {"signal": name, "from": lo, "to": hi, "value": float(integrate.trapezoid(tr.at(x), x))}


def products():
    for a, b, shift in [("noisy", "current", 0), ("noisy", "noisy", 0), ("clean", "current", 0.37e-9)]:
        p, q = traces[a], Trace(traces[b].t0 - shift, traces[b].dt, traces[b].y)
        for lo, hi in SPANS:
            x = np.concatenate([[lo, hi], p.t[(p.t > lo) & (p.t < hi)], q.t[(q.t > lo) & (q.t < hi)]])
            x = np.unique(x)
            parts = [integrate.fixed_quad(lambda s: p.at(s) * q.at(s), c, d, n=4)[0] for c, d in zip(x[:-1], x[1:])]
            yield {"a": a, "b": b, "delay": shift, "from": lo, "to": hi, "value": float(np.sum(parts))}


def lines():
    for name, lo, hi in [("current", -240.2e-9, -20.4e-9), ("noisy", -250e-9, -50e-9), ("noisy", -8.3e-9, 8.8e-9)]:
        tr = traces[name]
        m = tr.inside(lo, hi)
        x, y = tr.t[m], tr.y[m]
        fit = stats.linregress(x, y)
        poly = np.polyfit((x - x.mean()) / tr.dt, y, 1)
        assert abs(poly[0] / tr.dt / fit.slope - 1) < 1e-9
        rest = y - np.polyval(poly, (x - x.mean()) / tr.dt)
        yield {"signal": name, "from": lo, "to": hi, "n": int(m.sum()), "t": float(x.mean()), "y0": float(poly[1]),
               "slope": float(poly[0] / tr.dt), "residual": float(np.sqrt(np.sum(rest**2) / (m.sum() - 2)))}


def steepest():
    for name, n, sign in [("clean", 3, 1), ("clean", 11, 1), ("noisy", 5, 1), ("noisy", 21, 1), ("noisy", 21, -1),
                          ("current", 5, -1), ("current", 15, -1), ("current", 8, -1)]:
        tr = traces[name]
        lo, hi = -40.3e-9, 60.9e-9
        y = tr.y[tr.inside(lo, hi)]
        x = tr.t[tr.inside(lo, hi)]
        if n % 2:
            d = signal.savgol_filter(y, n, 1, deriv=1, delta=tr.dt)[n // 2:-(n // 2)]
        else:  # Savitzky-Golay has a middle sample
            d = np.array([np.polyfit(np.arange(n) - (n - 1) / 2, y[k:k + n], 1)[0] / tr.dt for k in range(len(y) - n + 1)])
        k = int(np.argmax(sign * d))
        yield {"signal": name, "from": lo, "to": hi, "n": n, "rising": sign > 0,
               "slope": float(d[k]), "t": float(x[k:k + n].mean())}


out = {
    "script_sha256": hashlib.sha256(open(__file__, "rb").read()).hexdigest(),
    "scipy": scipy.__version__,
    "numpy": np.__version__,
    "signals": {k: {"t0": float(v.t0), "dt": v.dt, "y": v.y.tolist()} for k, v in traces.items()},
    "levels": list(levels()),
    "states": list(states()),
    "crossings": list(crossings()),
    "bends": list(bends()),
    "integrals": list(integrals()),
    "products": list(products()),
    "lines": list(lines()),
    "steepest": list(steepest()),
}
json.dump(out, sys.stdout, indent=1)
sys.stdout.write("\n")
