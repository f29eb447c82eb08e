package review_test

import (
	"cmp"
	"net/http"
	"net/url"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Where a card is not to come, what was heard about its gates is shown: it asks somebody. Found all the same, the card is typed by somebody
// who has not read that. Source: our own logic, as for whoever wrote the call down.
func TestHeard_CardOfAClosedGapComesAllTheSame_WhoReadTheCallTypesNothingUnseen(t *testing.T) {
	for path, told := range map[string]bool{"/heard": true, "/questions": true, "/placing": false} {
		b := stacktest.New(t)
		for _, p := range b.Race.Run(1).Course("Blue").Places {
			if p.Card != 2 {
				b.Card("Blue", p.Card)
			}
		}
		desk := open(t, b)
		cleo, ben := sit(t, desk, "Cleo"), sit(t, desk, "Ben")
		require.Equal(t, http.StatusOK, cleo.send("/gap/run1/Blue/card-2", url.Values{"why": {"lost"}}).status)
		require.Equal(t, http.StatusOK, cleo.send("/heard", heardForm("14", "9", "fourteen missed it")).status)
		if page := ben.get(path); told {
			assert.Regexp(t, `names girls 14|<td data-head="bib">14 `, page.body, path)
		}
		b.Card("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "9", Panel: "B"})
		st, _ := b.Load()
		key := stacktest.Key("Blue", 2, 1, sheetmodel.PartBib)
		ben.get("/entry/" + key)
		ben.send("/entry/"+key, url.Values{"sheet": {strconv.FormatInt(st.Row(ref(2, 1)).Sheet.ID, 10)}, "text": {"14"}, "how": {"paper"}, "do": {"settle"}})
		all := decisionsOf(t, b, "Ben")
		require.Len(t, all, 1, path)
		assert.Equal(t, !told, all[0].Blind, path)
		st, _ = b.Load()
		assert.Equal(t, !told, st.Row(ref(2, 1)).BibState == sheetmodel.BibTwoLooks, path)
		if told {
			dora := sit(t, desk, "Dora")
			dora.typed(dora.get("/entry/"+key), "14", "paper")
			st, _ = b.Load()
			assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(2, 1)).BibState, path)
		}
	}
}

// So it is where the card is in and no reader has found the row yet. Source: our own logic, found by the walk over HTTP.
func TestHeard_RowIsFoundByABetterReader_WhoReadTheCallTypesItNotUnseen(t *testing.T) {
	for path, told := range map[string]bool{"/heard": true, "/questions": true, "/draft": true, "/placing": false} {
		b := stacktest.New(t)
		for _, p := range b.Race.Run(1).Course("Blue").Places {
			b.Card("Blue", p.Card)
		}
		desk := open(t, b)
		cleo, ben := sit(t, desk, "Cleo"), sit(t, desk, "Ben")
		require.Equal(t, http.StatusOK, cleo.send("/heard", heardForm("14", "9", "fourteen missed it")).status)
		if page := ben.get(path); told {
			assert.Contains(t, page.body, "14", path)
		}
		st, _ := b.Load()
		photo := st.Card(ref(2, 1).CardKey).Front.Photo
		require.NoError(t, b.Store.AddSheets(t.Context(), photo, "a better reader", b.Sheets("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "9", Panel: "B"})))
		st, _ = b.Load()
		key := stacktest.Key("Blue", 2, 1, sheetmodel.PartBib)
		ben.get("/entry/" + key)
		ben.send("/entry/"+key, url.Values{"sheet": {strconv.FormatInt(st.Row(ref(2, 1)).Sheet.ID, 10)}, "text": {"14"}, "how": {"paper"}, "do": {"settle"}})
		all := decisionsOf(t, b, "Ben")
		require.Len(t, all, 1, path)
		assert.Equal(t, !told, all[0].Blind, path)
	}
}

// A row that no reader has found may be at a neighbour's gate, too: whoever knows a call isn't given its line when the card is read back. Source:
// our own logic, as for rows whose gate isn't settled.
func TestHeard_NoReaderHasFoundTheRow_WhoKnowsTheCallDoesNotHearIt(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1)
	desk := open(t, b)
	cleo, dora := sit(t, desk, "Cleo"), sit(t, desk, "Dora")
	const page = "/readback/run1/Blue/card-1"
	assert.Contains(t, cleo.get(page).body, `name="more-row"`)
	require.Equal(t, http.StatusOK, cleo.send("/heard", heardForm("14", "9", "fourteen missed it")).status)
	assert.NotContains(t, cleo.get(page).body, `name="more-row"`)
	assert.Contains(t, dora.get(page).body, `name="more-row"`)
}

// A card that came in while its page was open is not called lost: were its photo refused later, nobody would look for it. Source: our own logic.
func TestGap_CardCameInMeanwhile_IsNotClosed(t *testing.T) {
	b := stacktest.New(t)
	p := sit(t, open(t, b), "Cleo")
	p.get("/card/run1/Blue/card-2")
	b.Card("Blue", 2)
	late := p.send("/gap/run1/Blue/card-2", url.Values{"why": {"lost"}})
	assert.Equal(t, http.StatusConflict, late.status)
	st, _ := b.Load()
	assert.Empty(t, st.Card(ref(2, 1).CardKey).GapReason)
}

// Of which run, course and gates a spare is, nobody knows before it is bound: whoever has written down a call types no bib on it unseen that
// may be at its gate. Source: our own logic.
func TestHeard_SpareThatNobodyHasBound_WhoWroteTheCallTypesItNotUnseen(t *testing.T) {
	b := stacktest.New(t)
	desk := open(t, b)
	cleo, ben := sit(t, desk, "Cleo"), sit(t, desk, "Ben")
	require.Equal(t, http.StatusOK, cleo.send("/heard", heardForm("14", "9", "fourteen missed it")).status)
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Card: 201}, Rows: 1, By: "Ada"}))
	for name, p := range map[string]*person{"Cleo": cleo, "Ben": ben} {
		const entry = "/entry/spare/card-201/front/row-01.bib"
		p.get(entry)
		p.send(entry, url.Values{"sheet": {"0"}, "text": {"14"}, "how": {"paper"}, "do": {"settle"}})
		all := decisionsOf(t, b, name)
		require.Len(t, all, 1, name)
		assert.Equal(t, name == "Ben", all[0].Blind, name)
	}
}

// A spare comes in that nobody has seen, and so does one that is bound to the gates of a call, or to others that its judge may have left for a
// neighbour's: whoever has read the call types no bib on it unseen either while its gate isn't settled. Source: our own logic, as for rows that are found later.
func TestHeard_SpareComesAfterTheCallWasRead_WhoReadItTypesItNotUnseen(t *testing.T) {
	for path, told := range map[string]bool{"/heard": true, "/questions": true, "/draft": true, "/placing": false} {
		for _, bound := range []string{"", "8-9", "1-3"} {
			b := stacktest.New(t)
			for _, p := range b.Race.Run(1).Course("Blue").Places {
				b.Card("Blue", p.Card)
			}
			desk := open(t, b)
			cleo, ben := sit(t, desk, "Cleo"), sit(t, desk, "Ben")
			require.Equal(t, http.StatusOK, cleo.send("/heard", heardForm("14", "9", "fourteen missed it")).status)
			if page := ben.get(path); told {
				assert.Contains(t, page.body, "14", path)
			}
			require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Card: 201}, Rows: 1, By: "Ada"}))
			if bound != "" {
				require.Equal(t, http.StatusOK, cleo.send("/bind/spare/card-201", url.Values{"run": {"1"}, "course": {"Blue"}, "gates": {bound}, "judge": {"Bo"}}).status)
			}
			const entry = "/entry/spare/card-201/front/row-01.bib"
			ben.get(entry)
			ben.send(entry, url.Values{"sheet": {"0"}, "text": {"14"}, "how": {"paper"}, "do": {"settle"}})
			all := decisionsOf(t, b, "Ben")
			require.Len(t, all, 1, "%s %s", path, bound)
			assert.Equal(t, !told, all[0].Blind, "%s, bound to %q", path, bound)
		}
	}
}

// A judge looks after a neighbour's gates for a while: a row whose gate isn't settled may be at any of them, whichever its card watches.
// Whoever has written down or read a call types its bib unseen only once its gate is settled, and is another one. Source: our own logic, found by
// the walk over HTTP.
func TestHeard_RowMayBeAtANeighboursGate_WhoKnowsTheCallTypesItNotUnseen(t *testing.T) {
	for _, name := range []string{"Cleo", "Ben", "Dora"} {
		for settled, blind := range map[string]bool{"": false, "2": true, "9": false} {
			b := stacktest.New(t)
			for _, p := range b.Race.Run(1).Course("Blue").Places {
				b.Card("Blue", p.Card)
			}
			desk := open(t, b)
			cleo, ben := sit(t, desk, "Cleo"), sit(t, desk, "Ben")
			require.Equal(t, http.StatusOK, cleo.send("/heard", heardForm("14", "9", "fourteen missed it")).status)
			require.Contains(t, ben.get("/questions").body, "names girls 14 at gate 9")
			sheets := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: cmp.Or(settled, "9"), Panel: "B"})
			sheets[0].Read.Reading.Rows[0].Gate.Doubt(sheetmodel.DoubtLowCertainty, "for this test")
			st, _ := b.Load()
			require.NoError(t, b.Store.AddSheets(t.Context(), st.Card(ref(1, 1).CardKey).Front.Photo, "a better reader", sheets))
			if settled != "" {
				b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartGate), settled)
			}
			st, _ = b.Load()
			key, sheet := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), strconv.FormatInt(st.Row(ref(1, 1)).Sheet.ID, 10)
			p := map[string]*person{"Cleo": cleo, "Ben": ben}[name]
			if p == nil { // who has read nothing
				p, blind = sit(t, desk, name), true
			}
			p.get("/entry/" + key)
			p.send("/entry/"+key, url.Values{"sheet": {sheet}, "text": {"14"}, "how": {"paper"}, "do": {"settle"}})
			all := decisionsOf(t, b, name)
			require.Len(t, all, 1, "%s, gate %q", name, settled)
			assert.Equal(t, blind, all[0].Blind, "%s, gate %q", name, settled)
		}
	}
}
