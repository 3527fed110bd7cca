#!/bin/bash
# Puts the parts together once all of them are done.
#
#   sbatch --dependency=afterok:JOB merge.sh BENCH.TOML RESULTS
#
#SBATCH --job-name=slewbook-merge
set -u
setup=$1 results=$2
slewbook merge "$results"/part-* --setup "$setup" --out "$results/all"
status=$?
[ $status -le 1 ] || exit $status
