#!/bin/sh
# Measures scan and writes scan/report.md.
#   scan/scantest/report.sh [photos per level, default 300]
#       the levels, on seeds that nothing was chosen on; about 40 minutes on two cores
#   scan/scantest/report.sh families [photos per step, default 2] [first seed, default 20000] [names, by commas]
#       each fault family by itself; about 1.5 s a photo on one core. Seeds from 2000000 on are the report's.
set -e
cd "$(dirname "$0")"
out=$(mktemp)
go test -c -o "$out.test" .
if [ "$1" = families ]; then
	"$out.test" -test.run TestMeasureFamilies -test.v -test.timeout 10h -per-step "${2:-2}" -seed "${3:-20000}" -families "${4:-}" -into "$out" | grep -v '^=== '
	"$out.test" -test.run TestFamilyReport -staged "$out"
else
	for level in hard ordinary impossible; do
		"$out.test" -test.run 'TestMeasure$' -test.v -test.timeout 5h -level "$level" -n "${1:-300}" -into "$out" | grep -v '^=== '
	done
	"$out.test" -test.run 'TestReport$' -report "$out"
fi
rm -f "$out" "$out.test"
