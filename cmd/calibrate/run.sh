#!/bin/sh
# Makes ocr/calib/curves.json and report.md again, for the weights in use.
#
#   GATEFOLD_DATA=… cmd/calibrate/run.sh WORK_DIR
#
# WORK_DIR keeps the rendered parts (about 2.5 GB): they don't depend on the weights and are made once.
# On two cores rendering takes about 30 minutes, reading 15. WORKERS says how many work at each of the two parts.
set -eu
work=$1
mkdir -p "$work"
export OPENCV_FOR_THREADS_NUM=1
go build -o "$work/calibrate" ./cmd/calibrate
for part in calibration threshold; do
	seed=100000
	[ $part = threshold ] && seed=500000
	(
		"$work/calibrate" render -dir "$work/$part" -part $part -cards 300 -seed $seed -workers "${WORKERS:-1}"
		"$work/calibrate" read -dir "$work/$part" -out "$work/$part.jsonl" -workers "${WORKERS:-1}"
	) &
done
wait
"$work/calibrate" fit -calibration "$work/calibration.jsonl" -threshold "$work/threshold.jsonl" -out ocr/calib/curves.json \
	-data "MNIST digits of the calibration and threshold writers, redrawn; 1,200 cards of each, half on ordinary and half on hard photos, folded cards left out; seeds from 100000 and 500000"
"$work/calibrate" report -threshold "$work/threshold.jsonl" -curves ocr/calib/curves.json -out ocr/calib/report.md
