#!/bin/sh
# Makes the mark net: columns of tick boxes of the gate card, drawn, photographed and read, then the training.
#
#   ocr/train/runmarks.sh CALIBRATE WORK_DIR OUT_DIR MINUTES
#
# CALIBRATE is the program of that name; GATEFOLD_DATA holds mnist-writers (DATA.md). Needs python3 with torch and numpy.
# Two cores draw the boxes in a quarter of an hour, one GPU takes two minutes.
#
# To prove the code on a small machine without a GPU, in a minute or two:
#
#   N=1 STEPS=3 BATCH=8 ocr/train/runmarks.sh CALIBRATE WORK_DIR OUT_DIR 0
set -eu
if [ $# -lt 4 ]; then
	sed -n '2,/^[^#]/s/^# \{0,1\}//p' "$0" >&2
	exit 2
fi
make=$1 work=$2 out=$3 minutes=$4
n=${N:-60}
here=$(dirname "$0")
mkdir -p "$work" "$out"
workers=$(nproc)
for k in 1 2 3 4 5 6 7 8; do
	"$make" marks -part calibration -cards "$n" -seed $((9000000 + k * 1000)) -workers "$workers" -out "$work/learn$k.bin"
done
"$make" marks -part threshold -cards $((n + n / 6)) -seed 9500000 -workers "$workers" -out "$work/select.bin"
"$make" marks -part threshold -cards "$n" -seed 9600000 -workers "$workers" -out "$work/check.bin"
python3 "$here/trainmarks.py" --data "$work" --out "$out" --minutes "$minutes" --steps "${STEPS:-0}" --batch "${BATCH:-2048}" --seed 1
