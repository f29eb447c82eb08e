#!/usr/bin/env bash
# The main job on bundled input, as a person would do it: print the cards of an invented race, collect
# the photos of its first run, draft the referee's list, put everything away, and say where to look.
#
#	testdata/demo.sh PROGRAM FOLDER
#
# FOLDER is made anew each time: nothing in it is worth keeping.
set -euo pipefail
program=${1:?program}
out=${2:?folder}
here=$(cd "$(dirname "$0")" && pwd)

# A folder that this script did not make is left alone.
if [ -e "$out" ] && [ ! -e "$out/.made-by-demo" ]; then
	echo "demo: $out is there and was not made by the demo; move it away first" >&2
	exit 1
fi
rm -rf "$out"
mkdir -p "$out"
touch "$out/.made-by-demo"
cp -r "$here/demo-race" "$out/race"

echo "== the cards, as PDF"
"$program" cards "$out/race" --out "$out/cards"
echo "== the photos of run 1"
# Exit code 3 means that a photo was refused with its reason; the rest is read all the same.
"$program" collect "$out/race" "$here"/demo-stack/photos/*.jpg || [ $? -eq 3 ]
echo "== the draft"
"$program" draft "$out/race" --out "$out/draft"
echo "== the archive"
"$program" pack "$out/race" "$out/archive"
"$program" verify "$out/archive"
echo
"$program" status "$out/race"
echo
echo "Look at   $out/cards/run-1.pdf    the cards to print"
echo "          $out/draft/draft.pdf    the draft as it stands, with the ink"
echo "          $out/archive/           with manifest-sha256.txt"
echo "Open the page with   $program desk $out/race   and settle what waits."
