package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// grainy is a front with the number of rows that stand at its foot, whose last row is only specks.
func (b *table) grainy(foot string, state sheetmodel.State, bibs ...string) store.NewSheet {
	n := b.front(2, bibs...)
	n.Read.Reading.Header = []sheetmodel.Reading{{Field: "foot.row-count", Side: sheetmodel.Front, Text: foot, State: state}}
	r := &n.Read.Reading.Rows[len(bibs)-1]
	for _, one := range []*sheetmodel.Reading{&r.Bib, &r.Code, &r.Gate, &r.Panel} {
		one.Text, one.State = "", sheetmodel.Empty
	}
	r.Bib.State, r.Bib.Doubts = sheetmodel.Doubtful, []sheetmodel.Doubt{{Kind: sheetmodel.DoubtFaintInk, Detail: "hardly darker than the paper"}}
	return n
}

func TestFoot_NoRowStands_IsSaidOfSpecksAndSettlesNothing(t *testing.T) {
	b := newTable(t)
	b.add(b.grainy("0", sheetmodel.Clear, "1"))
	s, result := b.load()
	require.Len(t, s.Rows, 1, "it is not dropped")
	assert.Equal(t, "At the foot of the card its judge wrote that no row stands.", s.Rows[0].Hint)
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)
	assert.NotEmpty(t, s.Waiting(result))
}

func TestFoot_OtherCases(t *testing.T) {
	for name, c := range map[string]struct {
		sheet func(*table) store.NewSheet
		want  string
	}{
		"one stands, two hold ink": {func(b *table) store.NewSheet { return b.grainy("1", sheetmodel.Clear, "14", "1") },
			"At the foot of the card its judge wrote 1, the rows that stand; 2 seem to hold ink."},
		"two stand":          {func(b *table) store.NewSheet { return b.grainy("2", sheetmodel.Clear, "14", "1") }, ""},
		"the foot is unsure": {func(b *table) store.NewSheet { return b.grainy("0", sheetmodel.Doubtful, "1") }, ""},
		"strong ink": {func(b *table) store.NewSheet {
			n := b.grainy("0", sheetmodel.Clear, "1")
			n.Read.Reading.Rows[0].Bib.Doubts[0].Kind = sheetmodel.DoubtLowCertainty
			return n
		}, ""},
	} {
		b := newTable(t)
		b.add(c.sheet(b))
		s, _ := b.load()
		assert.Equal(t, c.want, s.Rows[len(s.Rows)-1].Hint, name)
	}
}

// stays returns what is said of the judge of card 2.
func stays(result rules.Result) string {
	for _, f := range result.Findings {
		if f.Rule == "judge-stays" && f.Card != nil && f.Card.Card == 2 && f.Card.Course == "Blue" && f.Run == 1 {
			return f.Sentence
		}
	}
	return ""
}

func TestJudgeStays_OnlySpecks_IsMaybeUntilAPersonEntersSomething(t *testing.T) {
	b := newTable(t)
	b.add(b.grainy("0", sheetmodel.Clear, "1"))
	s, result := b.load()
	assert.Contains(t, stays(result), "may have to stay")
	b.types("Ada", s.Rows[0].BibSeen.Key, "14")
	_, result = b.load()
	assert.Contains(t, stays(result), "stays until the technical delegate releases")
}
