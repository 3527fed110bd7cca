#!/usr/bin/python3
"""Reference outputs of filters by SciPy, for the tests of filters.

    /usr/bin/python3 filters.py > filters.json

The signals are of our own making, with a fixed seed. Ends that SciPy has no
mode for (odd extension of a moving average, a Gaussian, a median) are made
with numpy.pad and cut off again. Outputs are rounded to 12 digits.
"""
import hashlib
import json
import sys

import numpy as np
import scipy
from scipy import ndimage, optimize, signal, special

rng = np.random.RandomState(7)
DT = 0.4e-9
FS = 1 / DT
N = 450

t = DT * np.arange(N)
edge = 300 * (1 + np.tanh((t - 61.3e-9) / 6e-9))
late = t > 70e-9
edge[late] += 70 * np.exp(-(t[late] - 70e-9) / 40e-9) * np.sin(2 * np.pi * 55e6 * (t[late] - 70e-9))
ramp = 3 + 0.2e9 * t - 40 / (1 + np.exp(-(t - 110e-9) / 3e-9))
signals = {
    "edge": edge + 2 * rng.standard_normal(N),
    "ramp": np.round((ramp + 0.1 * rng.standard_normal(N)) / 0.25) * 0.25,
}


def padded(y, reach, f):
    out = f(np.pad(y, reach, "reflect", reflect_type="odd"))
    return out[reach:len(out) - reach]


def bandwidth(gain, hi):
    """The lowest frequency at which gain falls to -3 dB."""
    f = np.linspace(0, hi, 4001)[1:]
    below = np.flatnonzero(gain(f) <= np.sqrt(0.5))
    if len(below) == 0:
        return None
    k = below[0]
    return float(optimize.brentq(lambda x: gain(np.array([x]))[0] - np.sqrt(0.5), f[k] / 2 if k == 0 else f[k - 1], f[k], rtol=1e-13))


def rise(apply, width):
    """10-90 % of a Gaussian edge of that 10-90 %, mid way between samples."""
    x = DT * (np.arange(4000) - 1999.5)
    sigma = width / (2 * special.ndtri(0.9))
    y = apply(special.ndtr(x / sigma) if width else (x > 0).astype(float))
    k = np.flatnonzero(y[:2000] <= 0.1)[-1]
    m = 2000 + np.flatnonzero(y[2000:] >= 0.9)[0]
    a = np.interp(0.1, y[k:k + 2], x[k:k + 2])
    b = np.interp(0.9, y[m - 1:m + 1], x[m - 1:m + 1])
    return float(b - a)


def case(apply, bw, **what):
    return {
        **what,
        "bandwidth": bw,
        "rises": None if what.get("derivative") else [{"edge": w, "out": rise(apply, w)} for w in [0, 0.3e-9, 4e-9, 25e-9]],
        "out": {k: [float("%.12g" % v) for v in apply(y)] for k, y in signals.items()},
    }


def fir_gain(w, order=0):
    def gain(f):
        h = np.abs(signal.freqz(w, worN=f, fs=FS)[1])
        return h / (2 * np.pi * f) ** order
    return gain


def savgols():
    for n, order, derivative in [(5, 2, 0), (11, 3, 0), (21, 4, 0), (101, 3, 0), (7, 6, 0), (51, 4, 0), (9, 0, 0),
                                 (11, 3, 1), (11, 2, 1), (21, 4, 2), (15, 5, 3)]:
        apply = lambda y: signal.savgol_filter(y, n, order, deriv=derivative, delta=DT, mode="interp")
        w = signal.savgol_coeffs(n, order, deriv=derivative, delta=DT)
        yield case(apply, bandwidth(fir_gain(w, derivative), FS / 2), n=n, order=order, derivative=derivative)


def bell(s):
    r = int(5 * s + 0.5)
    delta = np.zeros(2 * r + 1)
    delta[r] = 1
    return ndimage.gaussian_filter1d(delta, s, truncate=5, mode="constant")


def gaussians():
    for bw in [10e6, 20e6, 55e6, 200e6, 450e6, 700e6, 1200e6]:
        guess = np.sqrt(np.log(2)) / (2 * np.pi * bw * DT)
        s = optimize.brentq(lambda s: fir_gain(bell(s))(np.array([bw]))[0] - np.sqrt(0.5), guess / 2, 2 * guess, rtol=1e-14)
        apply = lambda y: padded(y, int(5 * s + 0.5), lambda x: ndimage.gaussian_filter1d(x, s, truncate=5))
        yield case(apply, bw, **{"set": bw, "sigma": float(s)})


def butterworths():
    for order, corner in [(1, 60e6), (2, 60e6), (3, 100e6), (4, 100e6), (4, 30e6), (5, 400e6), (8, 200e6), (2, 1100e6)]:
        sos = signal.butter(order, corner, fs=FS, output="sos")
        poles = signal.butter(order, corner, fs=FS, output="zpk")[1]
        reach = max(1, int(np.ceil(np.log(1e-5) / np.log(np.abs(poles).max()))))
        apply = lambda y: signal.sosfiltfilt(sos, y, padtype="odd", padlen=reach)
        gain = lambda f: np.abs(signal.sosfreqz(sos, worN=f, fs=FS)[1]) ** 2
        yield case(apply, bandwidth(gain, FS / 2), order=order, corner=corner, reach=reach,
                   at_corner=float(gain(np.array([corner]))[0]))


def means():
    for n in [1, 3, 9, 51]:
        apply = lambda y: padded(y, n // 2, lambda x: ndimage.uniform_filter1d(x, n))
        yield case(apply, bandwidth(fir_gain(np.ones(n) / n), FS / 2) if n > 1 else None, n=n)


def medians():
    for n in [1, 3, 5, 31]:
        apply = lambda y: padded(y, n // 2, lambda x: ndimage.median_filter(x, n))
        yield case(apply, None, n=n)


json.dump({
    "script_sha256": hashlib.sha256(open(__file__, "rb").read()).hexdigest(),
    "scipy": scipy.__version__,
    "numpy": np.__version__,
    "dt": DT,
    "signals": {k: v.tolist() for k, v in signals.items()},
    "savitzky_golay": list(savgols()),
    "gaussian": list(gaussians()),
    "butterworth": list(butterworths()),
    "mean": list(means()),
    "median": list(medians()),
}, sys.stdout)
sys.stdout.write("\n")
