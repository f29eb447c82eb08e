#!/bin/sh
# Makes the trouble net: combs of the gate card with trouble and without, then the training.
#
#   ocr/train/runtrouble.sh MAKETROUBLE MNIST_DIR DATA_DIR WORK_DIR OUT_DIR MINUTES
#
# MAKETROUBLE is the program of that name, built with CGO_ENABLED=0. DATA_DIR holds mnist-writers (DATA.md); "" does
# without, to try the code. Needs python3 with torch and numpy. 16 cores draw the combs in 7 minutes, one GPU takes 3.
#
# To prove the code on a small machine without a GPU, in a minute or two:
#
#   N=200 STEPS=3 BATCH=8 ocr/train/runtrouble.sh MAKETROUBLE MNIST_DIR "" WORK_DIR OUT_DIR 0
set -eu
if [ $# -lt 6 ]; then
	sed -n '2,/^[^#]/s/^# \{0,1\}//p' "$0" >&2
	exit 2
fi
make=$1 mnist=$2 data=$3 work=$4 out=$5 minutes=$6
n=${N:-90000}
few=$((n / 10))
here=$(dirname "$0")
mkdir -p "$work" "$out"
"$make" -mnist "$mnist" -data "$data" -part learn -n "$n" -shots 2 -seed 10 -out "$work/learn.bin"
"$make" -mnist "$mnist" -data "$data" -part select -n $((n / 15)) -seed 11 -out "$work/select.bin"
"$make" -mnist "$mnist" -data "$data" -part calibration -n "$few" -seed 12 -out "$work/calibration.bin"
"$make" -mnist "$mnist" -data "$data" -part threshold -n "$few" -seed 13 -out "$work/threshold.bin"
python3 "$here/traintrouble.py" --data "$work" --out "$out" --minutes "$minutes" --steps "${STEPS:-0}" --batch "${BATCH:-1024}" --seed 1
