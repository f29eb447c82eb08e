package rules

import "gatefold/sheetmodel"

// Facts is all that Check looks at: one race, all runs and courses that have cards.
type Facts struct {
	Race    *sheetmodel.Race
	Cards   []Card
	Rows    []Row
	Answers map[string]string // a person's answers, by Question.Key
	// AnsweredBy names who gave them, by Question.Key; only words rest on it.
	AnsweredBy map[string]string
	// Open is what else is asked about the paper, such as which of two photos counts: while it is open,
	// the draft of that run and course is not complete.
	Open []Gap
}

// Card is what is known of one card, in or not.
type Card struct {
	Key    sheetmodel.CardKey
	Spare  bool     // a numbered spare, bound to its run and course by a person
	In     bool     // photographed or typed from paper
	Gates  []string // labels the judge watched: from the placing list or the confirmed header; empty: not known
	Judge  string
	Group  string // ringed on the card; empty: nothing ringed
	Ringed string // course ringed on the card; empty: nothing ringed
	// HeaderFrom and HeaderTo are the gates as written on the card, empty when not written or not clear.
	HeaderFrom string
	HeaderTo   string
	RowCount   *int   // "rows that stand" as written; nil: not answered
	CardOf     int    // card n ...
	CardTotal  int    // ... of m, 0: not written
	GapReason  string // a person closed the gap of a missing card with this reason
}

// Row is one row that has ink, with the state of its bib. Empty rows are not passed.
type Row struct {
	Ref      sheetmodel.RowRef
	Bib      string // the text the looks agree on, or the best reading while waiting
	Group    string // settled by a person where one number is in two groups
	BibState sheetmodel.BibState
	Reason   string // why it waits or is set aside
	Code     string
	Gate     string
	Panel    string
	// CodeSure, GateSure and PanelSure are false while the reading waits for a person.
	CodeSure  bool
	GateSure  bool
	PanelSure bool
	Drawn     bool // the named panel holds ink and its strip or the row names it
	PathDoubt bool // nothing beyond the gates as sketched is seen in it; a doubt, never proof
	Rerun     bool
	// Struck: a line is seen through the row. Whether its judge struck it out, the card's foot or a person says.
	Struck bool
	// Blank: it was entered, but a person says that nothing stands there on the paper. It is set aside.
	Blank bool
	// Unsure: all its ink is so faint that it may be grain of the paper, and nobody has entered anything.
	Unsure bool
	// Veiled: it is set aside only so that its bib isn't told, not by a person.
	Veiled bool
}

// RowStanding says where one row ended up.
type RowStanding struct {
	Ref      sheetmodel.RowRef   `json:"ref"`
	Standing sheetmodel.Standing `json:"standing"`
	Why      string              `json:"why"`
	// NeedsLooks is how many more looks its bib needs before the row can carry what it says.
	NeedsLooks int `json:"needs_looks"`
}

// Result is one pass over the facts.
type Result struct {
	Findings  []sheetmodel.Finding `json:"findings"`
	Calls     []sheetmodel.Call    `json:"calls"`
	Standings []RowStanding        `json:"standings"`
	// Incomplete lists, for each run and course, why the draft is not complete; empty: complete.
	Incomplete []Gap `json:"incomplete"`
}

// Gap is one reason why the draft of a run and course is not complete.
type Gap struct {
	Run    int    `json:"run"`
	Course string `json:"course"`
	Why    string `json:"why"`
	// rows are those it is about, for Hiding; a pointer, so that gaps stay comparable.
	rows *[]sheetmodel.RowRef
}
