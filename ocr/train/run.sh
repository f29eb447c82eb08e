#!/bin/sh
# Makes the weights: boxes first, both nets beside it, from MNIST's four files and EMNIST's letters.
#
#   ocr/train/run.sh MAKECELLS MNIST_DIR LETTERS_IMAGES WORK_DIR OUT_DIR MINUTES PART SEED [START LR]
#
# MAKECELLS is the program of that name, built with CGO_ENABLED=0. PART is "learn" while nets are being
# chosen (the select-* figures are then by unseen writers) and "train" for the nets that are kept, which
# go on from START, the OUT_DIR of a run before, at the learning rate LR. LOG.md holds the runs made.
# It needs python3 with torch and numpy; one GPU and 16 cores take MINUTES and one more.
set -eu
if [ $# -lt 8 ]; then
	sed -n '2,/^[^#]/s/^# \{0,1\}//p' "$0" >&2
	exit 2
fi
make=$1 mnist=$2 letters=$3 work=$4 out=$5 minutes=$6 part=$7 seed=$8 start=${9:-} lr=${10:-2e-3}
here=$(dirname "$0")
mkdir -p "$work" "$out"
if [ "$part" = learn ]; then
	for probe in original redrawn ordinary hard; do
		"$make" -mnist "$mnist" -part select -probe $probe -each 1 -seed 77 -out "$work"
	done
	"$make" -mnist "$mnist" -letters "$letters" -part select -shards 8 -each 2500 -seed 78 -out "$work"
fi
GOGC=800 GOMAXPROCS=$(($(nproc) > 2 ? $(nproc) - 2 : 1)) nice -n 10 "$make" -mnist "$mnist" -letters "$letters" -part "$part" \
	-shards 2000 -each 2000 -shots 4 -seed "$seed" -out "$work" &
maker=$!
python3 "$here/train.py" --net a --data "$work" --learn "$part-*.bin" --out "$out" --minutes "$minutes" --seed "$seed" --start "$start" --lr "$lr" --least "${LEAST:-100000}" &
a=$!
python3 "$here/train.py" --net b --data "$work" --learn "$part-*.bin" --out "$out" --minutes "$minutes" --seed "$seed" --start "$start" --lr "$lr" --least "${LEAST:-100000}" &
b=$!
wait $a
wait $b
kill $maker 2>/dev/null || true
