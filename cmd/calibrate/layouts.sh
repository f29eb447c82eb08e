#!/bin/sh
# Makes the layout study again: sheetmodel/docs/layout-study.csv, the tables of layout-study.md and the picture.
#
#   GATEFOLD_DATA=… cmd/calibrate/layouts.sh WORK_DIR
#
# The readings take about 15 minutes of processor time. `calibrate layouts` itself adds to
# its file: of a card that it was stopped in nothing counts, and the next one's seed goes on.
set -eu
work=$1
mkdir -p "$work"
# Without preemption by signal: one goroutine works, and signals cost a fifth of its time.
export OPENCV_FOR_THREADS_NUM=1 GODEBUG=asyncpreemptoff=1
go build -o "$work/calibrate" ./cmd/calibrate
for name in print size mixed second; do
	rm -f "$work/$name.jsonl"
done
size=boxes-6,boxes-7,boxes-9,boxes-10,boxes-9-kept,rows-9,rows-11
strip=strip,strip-tall,strip-wide
code=code-narrow,code-wide,code-digit
run() {
	"$work/calibrate" layouts -out "$work/$1.jsonl" -cards "$2" -seed "$3" -variants "$4"
}
run print 10 723000 "gap-1,gap-1-wide,no-walls,corners,foot-line,foot-line-kept,dark,pale,dotted,$code" &
run size 19 724000 "$size,boxes-9-rows-11,rows-apart,$strip"
wait
run mixed 6 725000 "$size,pale,dark,no-walls,$strip,$code" &
run second 34 726000 second-box,strip
wait
"$work/calibrate" layouts-report -out sheetmodel/docs "$work/print.jsonl" "$work/size.jsonl" "$work/mixed.jsonl" "$work/second.jsonl"
"$work/calibrate" layouts-picture -out sheetmodel/docs/layout-study.png
