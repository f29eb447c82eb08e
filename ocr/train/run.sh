#!/bin/sh
# Makes the weights: boxes, and both nets beside it, from MNIST's four files and EMNIST's letters.
#
#   ocr/train/run.sh MAKECELLS MNIST_DIR LETTERS_IMAGES WORK_DIR OUT_DIR MINUTES PART SEED [START LR]
#
# MAKECELLS is the program of that name, built with CGO_ENABLED=0. PART is "learn" while nets are being
# chosen (the select-* figures are then by unseen writers) and "train" for the nets that are kept, which
# go on from START, the OUT_DIR of a run before, at the learning rate LR. LOG.md holds the runs made.
# OUT_DIR/a.onnx and b.onnx are the means of the weights' long averages at two thirds and at the end.
# It needs python3 with torch and numpy; one GPU and 16 cores take MINUTES and one more.
set -eu
if [ $# -lt 8 ]; then
	sed -n '2,/^[^#]/s/^# \{0,1\}//p' "$0" >&2
	exit 2
fi
make=$1 mnist=$2 letters=$3 work=$4 out=$5 minutes=$6 part=$7 seed=$8 start=${9:-} lr=${10:-2e-3}
here=$(dirname "$0")
mkdir -p "$work" "$out"
"$make" -mnist "$mnist" -part "$part" -probe original -each 1 -seed 77 -out "$work"
GOGC=800 GOMAXPROCS=$(($(nproc) > 3 ? $(nproc) - 3 : 1)) nice -n 10 "$make" -mnist "$mnist" -letters "$letters" -part "$part" \
	-shards 4000 -each 1000 -shots 4 -seed "$seed" -out "$work" &
maker=$!
if [ "$part" = learn ]; then
	(for probe in original redrawn ordinary hard card-ordinary card-hard; do
		"$make" -mnist "$mnist" -part select -probe $probe -each 1 -seed 77 -out "$work"
	done
	"$make" -mnist "$mnist" -letters "$letters" -part select -shards 4 -each 2500 -seed 78 -out "$work") &
fi
python3 "$here/train.py" --data "$work" --learn "$part-[0-9]*.bin" --plain "$part-original.bin" --out "$out" \
	--minutes "$minutes" --seed "$seed" --start "$start" --lr "$lr" --least "${LEAST:-15000}"
kill $maker 2>/dev/null || true
python3 "$here/blend.py" "$out/mid" "$out/long" 0.5 "$out"
