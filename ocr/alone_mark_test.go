package ocr

import (
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// A mark in a row where nothing is written is no clear one: a fold that runs down the card looks like it. Common practice, no
// source: who ticks what happened writes whom it happened to.
func TestDoubtAlone_OnlyMarksInARowWithoutWriting(t *testing.T) {
	mark := func() *sheetmodel.Reading { return &sheetmodel.Reading{Text: "K", State: sheetmodel.Clear} }
	empty := func() *sheetmodel.Reading { return &sheetmodel.Reading{State: sheetmodel.Empty} }
	boxes := []sheetmodel.Field{
		{Part: sheetmodel.PartBib, Kind: sheetmodel.Comb}, {Part: sheetmodel.PartGate, Kind: sheetmodel.Comb}, {Part: sheetmodel.PartCodeOther, Kind: sheetmodel.Cell},
		{Part: sheetmodel.PartCode, Kind: sheetmodel.Choice}, {Part: sheetmodel.PartPanel, Kind: sheetmodel.Choice},
	}
	for _, c := range []struct {
		name  string
		other map[sheetmodel.Part]*sheetmodel.Reading
		want  sheetmodel.State
	}{
		{"nothing else", map[sheetmodel.Part]*sheetmodel.Reading{sheetmodel.PartBib: empty(), sheetmodel.PartGate: empty()}, sheetmodel.Doubtful},
		{"another mark", map[sheetmodel.Part]*sheetmodel.Reading{sheetmodel.PartBib: empty(), sheetmodel.PartPanel: mark()}, sheetmodel.Doubtful},
		{"a bib", map[sheetmodel.Part]*sheetmodel.Reading{sheetmodel.PartBib: mark()}, sheetmodel.Clear},
		{"a bib that may be one", map[sheetmodel.Part]*sheetmodel.Reading{sheetmodel.PartBib: {State: sheetmodel.Doubtful}}, sheetmodel.Clear},
		{"a gate", map[sheetmodel.Part]*sheetmodel.Reading{sheetmodel.PartBib: empty(), sheetmodel.PartGate: mark()}, sheetmodel.Clear},
		{"a word", map[sheetmodel.Part]*sheetmodel.Reading{sheetmodel.PartBib: empty(), sheetmodel.PartCodeOther: {State: sheetmodel.Doubtful}}, sheetmodel.Clear},
	} {
		t.Run(c.name, func(t *testing.T) {
			code := mark()
			c.other[sheetmodel.PartCode] = code
			doubtAlone(boxes, c.other)
			require.Equal(t, c.want, code.State)
		})
	}
}

// A code written in a free cell is writing.
func TestDoubtAlone_ACodeWrittenByHand_IsNoMark(t *testing.T) {
	code := &sheetmodel.Reading{Text: "K", State: sheetmodel.Clear}
	doubtAlone([]sheetmodel.Field{{Part: sheetmodel.PartCode, Kind: sheetmodel.Cell}}, map[sheetmodel.Part]*sheetmodel.Reading{sheetmodel.PartCode: code})
	require.Equal(t, sheetmodel.Clear, code.State)
}

// Expected value: our own logic.
func TestDoubtAlone_NoBoxForABib_NoneIsMissed(t *testing.T) {
	code := &sheetmodel.Reading{Text: "K", State: sheetmodel.Clear}
	doubtAlone([]sheetmodel.Field{{Part: sheetmodel.PartCode, Kind: sheetmodel.Choice}}, map[sheetmodel.Part]*sheetmodel.Reading{sheetmodel.PartCode: code})
	require.Equal(t, sheetmodel.Clear, code.State)
}
