"""E_on and E_off of a folder of captures, by NumPy and pandas: what one would write in
an hour, to hold the speed of slewbook against. Levels are medians, windows run from v
10 % to i 2 % (off) and from i 10 % to v 2 % (on), at first crossings between samples;
nothing is checked, no other quantity read, no uncertainty told.

    energies.py FOLDER [PROCESSES]
"""
import glob
import multiprocessing
import os
import sys

import numpy as np
import pandas as pd


def crossing(t, y, level, rising, start):
    """First instant from index start at which y passes the level, and its index."""
    above = y[start:] >= level
    k = start + int(np.argmax(above if rising else ~above))
    f = (level - y[k - 1]) / (y[k] - y[k - 1])
    return t[k - 1] + f * (t[k] - t[k - 1]), k


def energy(t, p, a, b):
    inside = (t > a) & (t < b)
    ts = np.concatenate(([a], t[inside], [b]))
    ps = np.concatenate(([np.interp(a, t, p)], p[inside], [np.interp(b, t, p)]))
    return np.trapezoid(ps, ts) if hasattr(np, "trapezoid") else np.trapz(ps, ts)


def measure(name):
    frame = pd.read_csv(name)
    t, v, i, _ = (frame.iloc[:, k].to_numpy() for k in range(4))
    half = (v.min() + v.max()) / 2
    high = v > half
    edges = np.flatnonzero(np.diff(high.astype(np.int8)))
    on1, off1, on2 = edges[:3]
    bus = np.median(v[off1:on2])
    i = i - np.median(i[:on1])
    load_off, load_on = np.median(i[off1 - 60 : off1 - 40]), np.median(i[on2 + 300 : on2 + 320])
    gap = (off1 + on2) // 2
    a, k = crossing(t, v, 0.1 * bus, True, off1 - 1000)
    b, _ = crossing(t, i, 0.02 * load_off, False, k)
    e_off = energy(t, v * i, a, b)
    a, k = crossing(t, i, 0.1 * load_on, True, gap)
    b, _ = crossing(t, v, 0.02 * bus, False, k)
    return os.path.basename(name), energy(t, v * i, a, b), e_off


def main():
    files = sorted(glob.glob(os.path.join(sys.argv[1], "*.csv")))
    processes = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    if processes == 1:
        rows = [measure(f) for f in files]
    else:
        with multiprocessing.Pool(processes) as pool:
            rows = pool.map(measure, files)
    for name, e_on, e_off in rows:
        print(f"{name},{e_on:.6g},{e_off:.6g}")


main()
