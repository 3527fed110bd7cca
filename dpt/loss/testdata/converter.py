#!/usr/bin/env python3
"""Losses of two whole converters, from their switched waveforms.

Ours. The circuits are switched instant by instant and solved with SciPy; at each edge
the current that flows there is looked up in the grids of examples/converter, and the
on-states are integrated along the waveforms. No mean, no closed form of a ripple.

buck         inductor, output capacitor and load between two ideal switches; periodic
             state of the switched linear network by matrix exponentials
three-phase  three legs, triangular carrier, sines compared with it where they cross
             it; currents of the isolated star from the legs' voltages
"""
import hashlib
import json
import sys

import numpy as np
import scipy
from scipy.integrate import quad
from scipy.interpolate import RegularGridInterpolator, interp1d
from scipy.linalg import expm
from scipy.optimize import brentq

GRIDS = "../../../examples/converter/grids/"
TJ = 373.15  # of all dies, held


def grid(name):
    """E(i, v, t) in straight lines, beyond the ends as well: a sine passes zero."""
    with open(GRIDS + name + ".json") as f:
        g = json.load(f)
    i, v, t = (np.array(g["axes"][k]) for k in ("i", "v", "tj"))
    e = np.array(g["value"]).reshape(len(i), len(v), len(t))
    return RegularGridInterpolator((i, v, t), e, bounds_error=False, fill_value=None)


E = {k: grid(k) for k in ("e_on", "e_off", "e_rr")}


def energy(name, i, v):
    return float(E[name]((i, v, TJ)))


def between(low, high):
    """A value at TJ from those at 25 and 175 °C."""
    return low + (high - low) * (TJ - 298.15) / 150


R_ON = between(16e-3, 28e-3)


def buck():
    v_in, v_out, i_out, f, l, dead = 600.0, 250.0, 45.0, 50e3, 250e-6, 150e-9
    c, load = 2e-3, v_out / i_out
    duty, period = v_out / v_in, 1 / f
    knees = np.array([0.0, 10, 40, 100])
    diode = interp1d(knees, between(np.array([1.5, 2.8, 3.6, 4.7]), np.array([1.2, 2.5, 3.4, 4.6])))
    # x = (i_L, v_C, 1): the network with its source in the last column.
    a = np.array([[0, -1 / l, v_in / l], [1 / c, -1 / (load * c), 0], [0, 0, 0]])
    b = a.copy()
    b[0, 2] = 0
    on, off = expm(a * duty * period), expm(b * (1 - duty) * period)
    m = off @ on
    start = np.append(np.linalg.solve(np.eye(2) - m[:2, :2], m[:2, 2]), 1)
    top = on @ start

    def i_high(t):
        return (expm(a * t) @ start)[0]

    def i_low(t):
        return (expm(b * t) @ top)[0]

    i_on, i_off = start[0], top[0]
    t_on, t_off = duty * period, (1 - duty) * period
    lost = lambda g, lo, hi: quad(g, lo, hi, limit=200)[0] * f
    return {
        "i_on": i_on,
        "i_off": i_off,
        "p_on": f * energy("e_on", i_on, v_in),
        "p_off": f * energy("e_off", i_off, v_in),
        "p_rr": f * energy("e_rr", i_on, v_in),
        "p_cond_t": lost(lambda t: R_ON * i_high(t) ** 2, 0, t_on),
        "p_cond_d": lost(lambda t: R_ON * i_low(t) ** 2, dead, t_off - dead),
        "p_dead": lost(lambda t: float(diode(i_low(t))) * i_low(t), 0, dead)
        + lost(lambda t: float(diode(i_low(t))) * i_low(t), t_off - dead, t_off),
    }


def three_phase(l):
    """l is the inductance of a phase, None for a current without ripple."""
    v, rms, mod, cos_phi, f_out, f = 700.0, 35.0, 0.9, 0.85, 50.0, 16e3
    v0, r_d = between(2.2, 1.9), between(26e-3, 28e-3)
    peak, phi = np.sqrt(2) * rms, np.arccos(cos_phi)
    n, period = round(f / f_out), 1 / f
    w = 2 * np.pi * f_out

    def sine(t, leg):  # of the phase voltage, over half the bus
        return mod * np.sin(w * t + phi - 2 * np.pi * leg / 3)

    def carrier(t):  # a triangle, -1 in the middle of each cycle
        return 4 * abs((t / period) % 1 - 0.5) - 1

    # Where each leg goes to the upper rail and back: sine against carrier.
    ups, downs = [], []
    for leg in range(3):
        g = lambda t: sine(t, leg) - carrier(t)
        ups.append([brentq(g, k * period, (k + 0.5) * period, xtol=1e-15) for k in range(n)])
        downs.append([brentq(g, (k + 0.5) * period, (k + 1) * period, xtol=1e-15) for k in range(n)])
    times = np.unique(np.concatenate([np.ravel(ups), np.ravel(downs), np.linspace(0, n * period, 20 * n + 1)]))
    mid = (times[1:] + times[:-1]) / 2
    state = []
    for leg in range(3):
        up, down = np.array(ups[leg]), np.array(downs[leg])
        k = np.clip((mid / period).astype(int), 0, n - 1)
        state.append(((mid > up[k]) & (mid < down[k])).astype(float))
    state = np.array(state)
    current = peak * np.sin(w * times)
    if l is not None:
        phase = v * (state[0] - state.mean(axis=0))
        fundamental = mod * v / 2 / w * (np.cos(w * times[:-1] + phi) - np.cos(w * times[1:] + phi))
        flux = np.concatenate([[0], np.cumsum(phase * np.diff(times) - fundamental)])
        flux -= np.interp(times, [times[0], times[-1]], [flux[0], flux[-1]])  # rounding
        flux -= np.sum((flux[1:] + flux[:-1]) / 2 * np.diff(times)) / (n * period)
        current = current + flux / l
    i_at = interp1d(times, current)
    out = dict.fromkeys(("p_on", "p_off", "p_rr"), 0.0)
    for up, down in zip(ups[0], downs[0]):
        i_on, i_off = float(i_at(up)), float(i_at(down))
        # Of the upper position; the lower one has the same in the other half.
        if i_on > 0:
            out["p_on"] += f_out * energy("e_on", i_on, v)
            out["p_rr"] += f_out * energy("e_rr", i_on, v)
        if i_off > 0:
            out["p_off"] += f_out * energy("e_off", i_off, v)
    # i² of a straight line, exactly; the lower side conducts for the upper position's
    # freewheeling. Without dead times.
    a, b = current[:-1], current[1:]
    square = (a * a + a * b + b * b) / 3 * np.diff(times)
    positive = (a + b) > 0
    out["p_cond_t"] = R_ON * f_out * np.sum(square[positive & (state[0] > 0)])
    mean = (a + b) / 2 * np.diff(times)
    free = positive & (state[0] == 0)
    out["p_cond_d"] = f_out * (v0 * np.sum(mean[free]) + r_d * np.sum(square[free]))
    out = {k: 6 * x for k, x in out.items()}
    out["i_max"] = float(current.max())
    return out


with open(sys.argv[0], "rb") as script:
    sha = hashlib.sha256(script.read()).hexdigest()
json.dump({"script_sha256": sha, "scipy": scipy.__version__, "numpy": np.__version__, "buck": buck(), "three_phase": three_phase(None), "three_phase_ripple": three_phase(150e-6)}, sys.stdout, indent=1)
print()
