#!/bin/sh
# Makes the trouble net: combs of the gate card with trouble and without, then the training. With FORMS it makes the net
# for cards of other makes, from combs of so many forms drawn from seeds; in a WORK_DIR of its own, for parts that lie there
# are not drawn again.
#
#   ocr/train/runtrouble.sh MAKETROUBLE MNIST_DIR DATA_DIR WORK_DIR OUT_DIR MINUTES
#   FORMS=240 N=100000 SEED=3 WIDE=16,32,48,72,96 ocr/train/runtrouble.sh MAKETROUBLE ...
#
# MAKETROUBLE is the program of that name, built with CGO_ENABLED=0. DATA_DIR holds mnist-writers (DATA.md); "" does
# without, to try the code. Needs python3 with torch and numpy. 32 cores draw the combs in 8 minutes, one GPU takes 5.
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
n=${N:-200000}
few=$((n / 10))
seed=${SEED:-2}
forms=${FORMS:-0}
apart=$((forms > 100 ? 100 : forms)) # forms that figures are measured on; seeds set them apart from the others
here=$(dirname "$0")
mkdir -p "$work" "$out"
"$make" -mnist "$mnist" -data "$data" -part select -n $((n / 25)) -forms $apart -seed ${seed}1 -out "$work/select.bin"
"$make" -mnist "$mnist" -data "$data" -part calibration -n "$few" -forms $apart -seed ${seed}2 -out "$work/calibration.bin"
"$make" -mnist "$mnist" -data "$data" -part threshold -n "$few" -forms $apart -seed ${seed}3 -out "$work/threshold.bin"
# In parts, so that a machine that is taken away takes one only.
for part in 1 2 3 4; do
	[ -e "$work/learn$part.bin" ] ||
		"$make" -mnist "$mnist" -data "$data" -part learn -n $((n / 4)) -shots 2 -forms $forms -seed ${seed}0$part -out "$work/learn$part.bin"
done
python3 "$here/traintrouble.py" --data "$work" --out "$out" --minutes "$minutes" --steps "${STEPS:-0}" --batch "${BATCH:-1024}" --wide "${WIDE:-12,24,32,56,80}" --seed 1
