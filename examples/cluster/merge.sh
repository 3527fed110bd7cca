#!/bin/bash
# Puts the parts together once all of them are done.
#
#   sbatch --dependency=afterok:JOB merge.sh RESULTS
#
#SBATCH --job-name=slewbook-merge
set -u
slewbook merge "$1"/part-* --out "$1/all"
status=$?
[ $status -le 1 ] || exit $status
