#!/usr/bin/env bash
# How much faster two workers read than one, on this computer, with real reading.
#
#	review/queue/docs/workers.sh bin/gatefold [TIMES] [ROUNDS]
#
# Each of TIMES (3) rounds reads the bundled 24 photos, ROUNDS (5) times each with a byte added, once with one
# worker and once with two, from nothing read to all read and tied, starting of the programs included. OpenCV
# has one thread, so that a worker is one core's. Wants a computer of its own: it prints the load before and after.
# Last come medians, and whether every photo was kept exactly once each time.
set -euo pipefail
program=$(realpath "${1:?program}")
times=${2:-3}
rounds=${3:-5}
root=$(cd "$(dirname "$0")/../../.." && pwd)
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
export OPENCV_FOR_THREADS_NUM=1

mkdir "$dir/photos"
for file in "$root"/testdata/demo-stack/photos/*.jpg; do
	for n in $(seq "$rounds"); do
		{ cat "$file"; printf '%04d' "$n"; } >"$dir/photos/$n-$(basename "$file")"
	done
done
all=$(find "$dir/photos" -type f | wc -l)

# read_with WORKERS: seconds by the clock, and of processors, into $dir/WORKERS.
read_with() {
	rm -rf "$dir/race"
	cp -r "$root/testdata/demo-race" "$dir/race"
	"$program" collect "$dir/race" --later "$dir/photos" >/dev/null
	local TIMEFORMAT='%R %U %S'
	{ time (
		for _ in $(seq "$1"); do
			# 3: a photo was refused or a further card in it; the sums below tell whether it is the same each time.
			("$program" work "$dir/race" >>"$dir/said" 2>&1 || [ $? -eq 3 ]) &
		done
		wait
	); } 2>>"$dir/$1"
	"$program" status "$dir/race" --json | sed 's/"at": *"[^"]*"//' | sha256sum >>"$dir/stands"
	kept=$("$program" status "$dir/race" | grep -o '[0-9]* photos, [0-9]* refused')
	read=$(grep -oE '^[0-9]+ photos? read, [0-9]+ refused' "$dir/said" | awk '{ n += $1 + $4 } END { print n }')
	rm "$dir/said"
	echo "$1 worker(s): $(tail -1 "$dir/$1" | awk '{ printf "%.1f s, %.1f s of processors", $1, $2 + $3 }'); $kept; $read read by all workers"
	[ "$read" = "$all" ]
}

echo "load before: $(cut -d' ' -f1-3 /proc/loadavg); $(nproc) cores; $all photos"
for _ in $(seq "$times"); do
	read_with 1
	read_with 2
done
echo "load after: $(cut -d' ' -f1-3 /proc/loadavg)"
[ "$(sort -u "$dir/stands" | wc -l)" = 1 ] && echo "the race stands the same each time"
median() { sort -n "$1" | awk '{ a[NR] = $1 } END { print a[int((NR + 1) / 2)] }'; }
awk -v a="$(median "$dir/1")" -v b="$(median "$dir/2")" 'BEGIN { printf "two workers: %.2f times as fast as one (medians %.1f s and %.1f s)\n", a / b, a, b }'
