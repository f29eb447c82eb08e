// Package weights holds the two digit nets that ocr/train made, and their hash.
//
//	a.onnx  cell 1x1x48x40, bytes/255  -->  12 probabilities
//	b.onnx  glyph 1x1x28x28, bytes/255 -->  12 probabilities
//
// The files are part of the program; their SHA-256 stand in this package's source, so weights can't be
// exchanged without a change that is seen, and figures, curves and thresholds can name the weights they
// were made with. MODEL.md says what they were trained on and where they fail.
package weights

import (
	"crypto/sha256"
	_ "embed" // the nets
	"encoding/hex"
	"fmt"
	"sync"
)

// SHA-256 of the files, set by ocr/train/keep.sh.
const (
	hashA = "994bf005eba1e7a27f6ca495117942a2ef924180259af38f34ea6a5a104ade4d"
	hashB = "10d7af60489e106a2470d8a3060a8b16ca34757a3df02dd3b4d10cc94cbf19ea"
)

var (
	//go:embed a.onnx
	netA []byte
	//go:embed b.onnx
	netB []byte
)

// Hash returns the hash that names this pair of nets: SHA-256 of both files' hashes, as hex.
func Hash() string { return hash() }

var hash = sync.OnceValue(func() string {
	sum := sha256.Sum256([]byte(hashA + " " + hashB + "\n"))
	return hex.EncodeToString(sum[:])
})

// Files returns both nets as ONNX. The caller must not change them. It is an error if a file is not the
// one the source names.
func Files() (a, b []byte, err error) {
	for _, f := range []struct {
		name, want string
		data       []byte
	}{{"a.onnx", hashA, netA}, {"b.onnx", hashB, netB}} {
		sum := sha256.Sum256(f.data)
		if got := hex.EncodeToString(sum[:]); got != f.want {
			return nil, nil, fmt.Errorf("weights %s: SHA-256 %s, want %s; build from a clean checkout", f.name, got, f.want)
		}
	}
	return netA, netB, nil
}
