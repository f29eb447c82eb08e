#!/bin/sh
# Measures scan on seeds that nothing was chosen on and writes scan/report.md. About 40 minutes on two cores.
#   scan/scantest/report.sh [photos per level, default 300]
set -e
cd "$(dirname "$0")"
n=${1:-300}
out=$(mktemp)
go test -c -o "$out.test" .
for level in hard ordinary impossible; do
	"$out.test" -test.run TestMeasure -test.v -test.timeout 5h -level "$level" -n "$n" -into "$out" | grep -v '^=== '
done
"$out.test" -test.run TestReport -report "$out"
rm -f "$out" "$out.test"
