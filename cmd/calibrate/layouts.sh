#!/bin/sh
# Makes the layout study again: sheetmodel/docs/layout-study.csv, the tables of layout-study.md and the picture.
#
#   GATEFOLD_DATA=… cmd/calibrate/layouts.sh WORK_DIR
#
# Beside other work on two cores the readings took an hour and a half. A run that is stopped goes on with
# the next card if its seed is given to -seed; what is there of a card that it was stopped in isn't counted.
set -eu
work=$1
mkdir -p "$work"
# Without preemption by signal: one goroutine works, and signals cost a fifth of its time.
export OPENCV_FOR_THREADS_NUM=1 GODEBUG=asyncpreemptoff=1
go build -o "$work/calibrate" ./cmd/calibrate
rm -f "$work"/print.jsonl "$work"/size.jsonl
"$work/calibrate" layouts -out "$work/print.jsonl" -cards PRINTCARDS -seed 723000 \
	-variants gap-1,gap-1-wide,no-walls,corners,foot-line,foot-line-kept,dark,pale,dotted,code-narrow,code-wide,code-digit &
"$work/calibrate" layouts -out "$work/size.jsonl" -cards SIZECARDS -seed 724000 \
	-variants boxes-6,boxes-7,boxes-9,boxes-10,boxes-9-rows-11,boxes-9-kept,rows-apart,rows-9,rows-11,second-box,strip,strip-tall,strip-wide
wait
"$work/calibrate" layouts-report -out sheetmodel/docs "$work/print.jsonl" "$work/size.jsonl"
"$work/calibrate" layouts-picture -out sheetmodel/docs/layout-study.png
