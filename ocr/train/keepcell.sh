#!/bin/sh
# Puts a trained cell net in place: ocr/train/keepcell.sh DIR SELECT, where DIR holds cell.onnx and cell.pt, and
# SELECT are strips as makestrips wrote them. It sets the hash in ocr/weights and stores what PyTorch answers for
# 12 strips, which a test compares with OpenCV's answers. Needs python3 with torch and numpy.
set -eu
dir=$1 select=$2
root=$(cd "$(dirname "$0")/../.." && pwd)
python=${PYTHON:-python3}
cp "$dir/cell.onnx" "$root/ocr/weights/"
hash=$(sha256sum <"$root/ocr/weights/cell.onnx" | cut -d' ' -f1)
sed -i "s/hashCell = \".*\"/hashCell = \"$hash\"/" "$root/ocr/weights/weights.go"
$python "$root/ocr/train/cellanswers.py" "$dir/cell.pt" "$select" "$root/ocr/net/testdata/cellanswers.bin.gz"
