#!/bin/sh
# Puts a trained mark net in place: ocr/train/keepmarks.sh DIR SELECT, where DIR holds marks.onnx and select.claims, and
# SELECT are boxes as `calibrate marks` wrote them. It sets the hash in ocr/weights and stores what PyTorch answered for
# 32 boxes, which a test compares with OpenCV's answers. Curves must be fitted anew after it: ocr/calib.
set -eu
dir=$1 select=$2
root=$(cd "$(dirname "$0")/../.." && pwd)
cp "$dir/marks.onnx" "$root/ocr/weights/"
hash=$(sha256sum <"$root/ocr/weights/marks.onnx" | cut -d' ' -f1)
sed -i "s/hashMarks = \".*\"/hashMarks = \"$hash\"/" "$root/ocr/weights/weights.go"
python3 "$root/ocr/train/markanswers.py" "$select" "$dir/select.claims" "$root/ocr/net/testdata/markanswers.bin.gz"
