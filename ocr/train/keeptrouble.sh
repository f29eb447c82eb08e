#!/bin/sh
# Puts a trained trouble net in place: ocr/train/keeptrouble.sh DIR SELECT, where DIR holds trouble.onnx and
# select.claims, and SELECT are combs as maketrouble wrote them. It sets the hash in ocr/weights and stores what PyTorch
# answered for 30 combs, which a test compares with OpenCV's answers.
set -eu
dir=$1 select=$2
root=$(cd "$(dirname "$0")/../.." && pwd)
cp "$dir/trouble.onnx" "$root/ocr/weights/"
hash=$(sha256sum <"$root/ocr/weights/trouble.onnx" | cut -d' ' -f1)
sed -i "s/hashTrouble = \".*\"/hashTrouble = \"$hash\"/" "$root/ocr/weights/weights.go"
python3 "$root/ocr/train/troubleanswers.py" "$select" "$dir/select.claims" "$root/ocr/net/testdata/troubleanswers.bin.gz"
