"""Reads the text of BenchmarkRead/csv/ROWS with pandas' C reader, then runs that
benchmark, and prints both speeds. ROWS is one that the benchmark has: 1000000 if
none is given, 10000000 for a text of 415 MB. Run it in the folder
waveform/format, on a machine that does nothing else:

    python3 testdata/bench/compare.py [ROWS]

The text is the one that csvText in bench_test.go writes. Pandas reads on one
core and takes no hash; the benchmark reads on all cores, hashes the file, and
checks the time axis and the samples.
"""

import os
import re
import subprocess
import sys
import tempfile
import time

import pandas

ROWS = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
REPEATS = 5


def write(name):
    with open(name, "w", newline="\n") as f:
        f.write("Time (s),Vds (V),Id (A),Vgs (V)\n")
        for i in range(ROWS):
            y = [i * (k + 7) % 1021 * 0.3125 / (k + 1) for k in range(3)]
            f.write("%.12e,%.6g,%.6g,%.6g\n" % (-1e-6 + i * 8e-10, *y))


def main():
    with tempfile.TemporaryDirectory() as folder:
        name = os.path.join(folder, "a.csv")
        write(name)
        size = os.path.getsize(name) / 1e6
        wall = []
        for _ in range(REPEATS):
            start = time.perf_counter()
            pandas.read_csv(name)
            wall.append(time.perf_counter() - start)
    theirs = size / min(wall)
    print(f"pandas {pandas.__version__}: {size:.1f} MB, {theirs:.0f} MB/s (best of {REPEATS})")
    out = subprocess.run(
        ["go", "test", "-run", "^$", "-bench", f"BenchmarkRead/csv/{ROWS}$", "-count", str(REPEATS), "."],
        check=True, capture_output=True, text=True).stdout
    ours = max(float(x) for x in re.findall(r"([0-9.]+) MB/s", out))
    print(f"this reader: {ours:.0f} MB/s (best of {REPEATS}), {ours / theirs:.1f} times as fast")


main()
