#!/bin/sh
# Makes the cell net: glyphs, strips of the bench card, then the training, in two parts as the net in use was made.
#
#   ocr/train/runcell.sh MAKESTRIPS MNIST_DIR DATA_DIR WORK_DIR OUT_DIR
#
# MAKESTRIPS is the program of that name, built with CGO_ENABLED=0. DATA_DIR holds mnist-writers and emnist-letters
# (DATA.md). Needs python3 with torch and numpy; one GPU takes 13 minutes, one core before it
# half an hour, and drawing the strips five minutes on 32 cores.
#
# To prove the code on a small machine without a GPU, with no other data than MNIST (a few minutes):
#
#   MAKESTRIPS -mnist MNIST_DIR -data "" -part select -glyphs -out WORK_DIR/glyphs.gz
#   MAKESTRIPS -mnist MNIST_DIR -data "" -part select -n 64 -out WORK_DIR/select.gz
#   python3 ocr/train/traincell.py --data WORK_DIR --out OUT_DIR --steps 3 --batch 8 --ring 64 --texts 500
set -eu
if [ $# -lt 5 ]; then
	sed -n '2,/^[^#]/s/^# \{0,1\}//p' "$0" >&2
	exit 2
fi
make=$1 mnist=$2 data=$3 work=$4 out=$5
here=$(dirname "$0")
mkdir -p "$work" "$out"
"$make" -mnist "$mnist" -data "$data" -part learn -glyphs -seed 5 -out "$work/glyphs.gz"
# Letters and types are drawn as often as a types list names them: what accuses is taught most.
"$make" -mnist "$mnist" -data "$data" -part select -n 6000 -seed 22 -types comb,bib,bib,gate,range,code-gate,code,panel -out "$work/select.gz"
"$make" -mnist "$mnist" -data "$data" -part learn -wild -shots 2 -n 64000 -seed 21 -types comb,comb,bib,bib,bib,gate,range,code-gate,code,panel -out "$work/learn-1.gz"
# The first part sees no strips of the bench card, the second two fifths of each batch.
python3 "$here/traincell.py" --data "$work" --out "$out/first" --minutes 5 --batch 512 --texts 200000 --seed 1 --bench 0 --fresh 0.5
python3 "$here/traincell.py" --data "$work" --out "$out" --minutes 7.4 --batch 640 --seed 2 --lr 2.5e-3 --bench 0.4 --fresh 0.2 --start "$out/first/cell.pt"
