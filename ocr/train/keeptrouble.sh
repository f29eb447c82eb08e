#!/bin/sh
# Puts a trained trouble net in place: ocr/train/keeptrouble.sh DIR SELECT [forms], where DIR holds trouble.onnx and
# select.claims, and SELECT are combs as maketrouble wrote them; with forms, the net for cards of other makes. It sets the
# hash in ocr/weights and stores what PyTorch answered for 30 combs, which a test compares with OpenCV's answers.
set -eu
dir=$1 select=$2 name=${3:-trouble}
case $name in
trouble) const=hashTrouble ;;
forms) const=hashForms ;;
*) echo "$name: neither trouble nor forms" >&2; exit 2 ;;
esac
root=$(cd "$(dirname "$0")/../.." && pwd)
cp "$dir/trouble.onnx" "$root/ocr/weights/$name.onnx"
hash=$(sha256sum <"$root/ocr/weights/$name.onnx" | cut -d' ' -f1)
sed -i "s/$const = \".*\"/$const = \"$hash\"/" "$root/ocr/weights/weights.go"
python3 "$root/ocr/train/troubleanswers.py" "$select" "$dir/select.claims" "$root/ocr/net/testdata/${name}answers.bin.gz"
