#!/bin/bash
# Measures one of N parts of a campaign in each task of a job array:
#
#   sbatch --array=1-N measure.sh CAPTURES BENCH.TOML RESULTS N
#
# A task that was killed, given again, goes on where it was: --array=3 for the third.
#
#SBATCH --job-name=slewbook
#SBATCH --cpus-per-task=2
#SBATCH --requeue
set -u
captures=$1 setup=$2 results=$3 parts=$4
export GOMAXPROCS=${SLURM_CPUS_PER_TASK:-2}
k=$SLURM_ARRAY_TASK_ID
slewbook measure "$captures" --setup "$setup" --shard "$k/$parts" --out "$results/part-$k" --no-figures --json >/dev/null
status=$?
# 1 is: some captures could not be measured; their rows say why, and the rest is there.
[ $status -le 1 ] || exit $status
