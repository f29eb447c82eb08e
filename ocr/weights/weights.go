// Package weights holds the nets that ocr/train made, and their hashes.
//
//	a.onnx        cell 1x1x48x40, bytes/255   -->  12 probabilities
//	b.onnx        glyph 1x1x28x28, bytes/255  -->  12 probabilities
//	cell.onnx     strip 1x1x48x160, bytes/255 -->  log-odds of 44 symbols at 80 places
//	trouble.onnx  comb 1x1x72x160, bytes/255  -->  probabilities of 10 kinds of ink
//	forms.onnx    the same, of combs on cards of other makes
//	marks.onnx    tick box 1x1x32x64, bytes/255 -->  probabilities of no mark and of a mark
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
	"strings"
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
	//go:embed cell.onnx
	netCell []byte
	//go:embed trouble.onnx
	netTrouble []byte
	//go:embed forms.onnx
	netForms []byte
	//go:embed marks.onnx
	netMarks []byte
)

// Hash returns the hash that names this pair of nets: SHA-256 of both files' hashes, as hex.
func Hash() string { return hash() }

var hash = sync.OnceValue(func() string {
	sum := sha256.Sum256([]byte(hashA + " " + hashB + "\n"))
	return hex.EncodeToString(sum[:])
})

// hashCell is the SHA-256 of cell.onnx, set by ocr/train/keepcell.sh.
const hashCell = "505ad890cff3c7247d88138627e48c3374dc22b4ed9527ca229a95e875ac0bf2"

// CellHash returns the hash that names the cell net.
func CellHash() string { return hashCell }

// hashTrouble is the SHA-256 of trouble.onnx, set by ocr/train/keeptrouble.sh.
const hashTrouble = "262b1efca157c964e630440d08a62d245f029d85832bd98c5c45512f6b629a49"

// TroubleHash returns the hash that names the trouble net.
func TroubleHash() string { return hashTrouble }

// hashForms is the SHA-256 of forms.onnx, set by ocr/train/keeptrouble.sh.
const hashForms = "e3585bceceeaff5235e2fddc22c6c0f633e100351d0973327fcaae676cf79c75"

// FormsHash returns the hash that names the trouble net for cards of other makes.
func FormsHash() string { return hashForms }

// hashMarks is the SHA-256 of marks.onnx, set by ocr/train/keepmarks.sh.
const hashMarks = "86cfbcddfa2334c0a7c1cf49f30ca2f584a96e043f9081613a5804ac5e0cb172"

// MarksHash returns the hash that names the mark net.
func MarksHash() string { return hashMarks }

// Together names some nets as one reader of combs and marks, by the hash of their hashes, in the order digit nets, cell
// net, trouble net, mark net: its curves and thresholds hold for these nets and no others.
func Together(hashes ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(hashes, " ") + "\n"))
	return hex.EncodeToString(sum[:])
}

// Combs names the embedded nets that read combs and marks on the gate card, which curves are made on. The trouble net for
// other makes is none of them: it adds doubts or takes them back, and moves no score.
func Combs() string { return Together(Hash(), CellHash(), TroubleHash(), MarksHash()) }

// Cells names the embedded nets that read free cells.
func Cells() string { return Together(CellHash(), Hash()) }

// MarksFile returns the mark net as ONNX, as Files does the others.
func MarksFile() ([]byte, error) {
	if err := check("marks.onnx", hashMarks, netMarks); err != nil {
		return nil, err
	}
	return netMarks, nil
}

// TroubleFile returns the trouble net as ONNX, as Files does the others.
func TroubleFile() ([]byte, error) {
	if err := check("trouble.onnx", hashTrouble, netTrouble); err != nil {
		return nil, err
	}
	return netTrouble, nil
}

// FormsFile returns the trouble net for cards of other makes as ONNX, as Files does the others.
func FormsFile() ([]byte, error) {
	if err := check("forms.onnx", hashForms, netForms); err != nil {
		return nil, err
	}
	return netForms, nil
}

// CellFile returns the cell net as ONNX, as Files does the others.
func CellFile() ([]byte, error) {
	if err := check("cell.onnx", hashCell, netCell); err != nil {
		return nil, err
	}
	return netCell, nil
}

// check refuses a file that is not the one the source names.
func check(name, want string, data []byte) error {
	sum := sha256.Sum256(data)
	if got := hex.EncodeToString(sum[:]); got != want {
		return fmt.Errorf("weights %s: SHA-256 %s, want %s; build from a clean checkout", name, got, want)
	}
	return nil
}

// Files returns both nets as ONNX. The caller must not change them. It is an error if a file is not the
// one the source names.
func Files() (a, b []byte, err error) {
	for _, f := range []struct {
		name, want string
		data       []byte
	}{{"a.onnx", hashA, netA}, {"b.onnx", hashB, netB}} {
		if err := check(f.name, f.want, f.data); err != nil {
			return nil, nil, err
		}
	}
	return netA, netB, nil
}
