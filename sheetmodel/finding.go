package sheetmodel

// CardKey names one card of a race: run, course and card number. Spares have run 0 until bound.
type CardKey struct {
	Run    int    `json:"run"`
	Course string `json:"course"`
	Card   int    `json:"card"`
}

// RowRef names one row of one card.
type RowRef struct {
	CardKey
	Row int `json:"row"`
}

// Severity says how much a Finding stops.
type Severity string

// The severities, strongest first.
const (
	Blocks  Severity = "blocks"  // the call is set aside with the reason
	Asks    Severity = "asks"    // needs a person
	Warns   Severity = "warns"   // the draft is not complete
	Informs Severity = "informs" // information
)

// Finding is what the rules say about rows together, in a sentence a referee can read.
type Finding struct {
	Rule     string    `json:"rule"` // name of the rule, e.g. "lost-ski"
	Severity Severity  `json:"severity"`
	Run      int       `json:"run"`            // run it concerns; 0: a card bound to no run yet
	Course   string    `json:"course"`         // course it concerns
	Card     *CardKey  `json:"card,omitempty"` // where it concerns one card
	Rows     []RowRef  `json:"rows,omitempty"` // rows it rests on
	Bib      string    `json:"bib,omitempty"`
	Group    string    `json:"group,omitempty"`
	Gate     string    `json:"gate,omitempty"`
	Sentence string    `json:"sentence"`
	Basis    string    `json:"basis"`              // article, local rule, or "common practice"
	Question *Question `json:"question,omitempty"` // what a person is asked, if anything
	ForJury  bool      `json:"for_jury,omitempty"` // a person has answered that the jury is to look at it
}

// Question is something that only a person can answer; its key is stable from pass to pass.
type Question struct {
	Key     string   `json:"key"`
	Ask     string   `json:"ask"`
	Answers []Answer `json:"answers"`
	// View is what the question is about, as it is now. An answer is kept with it and counts while it is the same. It holds what rows
	// say, so it is sent to nobody.
	View string `json:"-"`
}

// Answer is one possible answer to a Question.
type Answer struct {
	Value string `json:"value"`
	Label string `json:"label"`
}

// Standing says where a row ends up. Every row has exactly one.
type Standing string

// Where a row can stand.
const (
	StandsCall     Standing = "call"      // carries a proposed disqualification, alone or with others
	StandsWaiting  Standing = "waiting"   // would carry one, lacks a look or an answer
	StandsInform   Standing = "inform"    // recorded, proposes nothing
	StandsSetAside Standing = "set-aside" // no call, with the reason
)

// Call is one proposed disqualification: a bib in one run, with the rows it rests on.
type Call struct {
	Run      int      `json:"run"`
	Course   string   `json:"course"`
	Group    string   `json:"group,omitempty"`
	Bib      string   `json:"bib"`
	Gate     string   `json:"gate"`
	Code     string   `json:"code"`
	Meaning  string   `json:"meaning"`
	Basis    string   `json:"basis"` // article or local rule
	Rows     []RowRef `json:"rows"`  // rows that carry it, the leading one first
	Further  []RowRef `json:"further,omitempty"`
	Waiting  bool     `json:"waiting"` // true until every row in Rows has its two looks and no question is open
	WaitsFor []string `json:"waits_for,omitempty"`
	Posted   bool     `json:"posted,omitempty"` // it was made public
	// Overruled: the jury decided against it. The rows stay, the line is struck.
	Overruled bool `json:"overruled,omitempty"`
}
