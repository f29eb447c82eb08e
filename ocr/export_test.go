package ocr

import (
	"strings"

	"gatefold/ocr/net"
	"gatefold/sheetmodel"
)

// OpenNets opens the embedded nets for the suite of all classifiers.
func OpenNets() (Classifier, error) { return openNets() }

// InCell reports whether a cell of the grammar may mean text.
func InCell(g sheetmodel.Grammar, text string) bool {
	steps, ok := grammarOfCell(g)
	state := 0
	for _, c := range text {
		if !ok {
			return false
		}
		i := strings.IndexRune(net.CellSymbols, c)
		if state, ok = steps.Next(state, i); !ok {
			return false
		}
	}
	return ok && steps.Final(state)
}

// VoiceBelow, Pool and Capped are of the voice on combs.
const VoiceBelow = voiceBelow

var (
	Pool   = pool
	Capped = capped
)
