package main

import "gatefold/sheetmodel"

// results is testdata/bench/results.json. A null key was not measured; counts are counts, shares 0 to 1.
type results struct {
	Format  int    `json:"format"`
	Machine string `json:"machine"`
	Date    string `json:"date"`
	Subset  bool   `json:"subset"` // true: the short run of make bench, not the full one
	Levels  string `json:"levels"` // hash of scan/camera/levels.yaml
	Layouts string `json:"layouts"`
	Split   string `json:"writers"` // whose handwriting: "report" writers only

	Scan    *scanGroup   `json:"scan"`
	Sheet   *askedGroup  `json:"sheet"`
	Row     *rowGroup    `json:"row"`
	Bib1    *levelsGroup `json:"bib1"`
	Bib1P   *eyeGroup    `json:"bib1p"`
	Bib2    *levelsGroup `json:"bib2"`
	Code    *levelsGroup `json:"code"`
	Gate    *levelsGroup `json:"gate"`
	Spoilt  *levelsGroup `json:"spoilt"`       // bibs struck out, overwritten, questioned, outside their box, dashes
	Spoilt2 *levelsGroup `json:"spoilt_twice"` // the same with a clean second box: clear is a breach
	Digit   *digitGroup  `json:"digit"`
	Tick    *askedGroup  `json:"tick"`
	Ticks   *ticksFile   `json:"dense_ticks"` // tick boxes on dense sheets, from ocr/ticks.json
	Speed   *speedGroup  `json:"speed"`
	Rules   *rulesGroup  `json:"rules"`
	Review  *reviewGroup `json:"review"`

	Rivals []rivalMethod `json:"rivals"` // other methods on the same photos

	notes  []string // for RESULTS.md
	copied int
}

// MadeWith says which state of the program a group was measured in.
type MadeWith struct {
	Commit  string   `json:"commit"`
	Weights string   `json:"weights"`
	Curves  string   `json:"curves"`
	Seeds   []uint64 `json:"seeds"` // first and last
}

type scanCounts struct {
	Total   int `json:"total"`
	Found   int `json:"found"` // straightened rightly
	Wrong   int `json:"wrong"` // straightened wrongly: a field that isn't flagged lies elsewhere
	Told    int `json:"told"`  // of found: a field that is flagged lies elsewhere
	Refused int `json:"refused"`
}

type percentiles struct {
	P50 *float64 `json:"p50"`
	P99 *float64 `json:"p99"`
}

type scanGroup struct {
	MadeWith
	Ordinary     *scanCounts  `json:"ordinary"`
	Hard         *scanCounts  `json:"hard"`
	Impossible   *scanCounts  `json:"impossible"`
	FieldErrorMM *percentiles `json:"field_error_mm"`
}

type askedGroup struct {
	MadeWith
	Total int `json:"total"`
	Wrong int `json:"wrong"`
	Asked int `json:"asked"`
}

type rowGroup struct {
	MadeWith
	Total    int `json:"total"`
	Lost     int `json:"lost"`
	Invented int `json:"invented"`
	Covered  int `json:"covered"` // of the invented: asked about only because something lies on them
}

type levelsGroup struct {
	MadeWith
	Ordinary *clearGroup `json:"ordinary"`
	Hard     *clearGroup `json:"hard"`
	// Lengths counts apart by the number of digits, 1 to 4, both levels together; of bibs only.
	Lengths map[int]*lengthCount `json:"by_digits,omitempty"`
}

type lengthCount struct {
	Total      int     `json:"total"`
	Clear      int     `json:"clear"`
	ClearWrong int     `json:"clear_wrong"`
	Upper95    float64 `json:"upper95"`
}

// clearGroup is a risk-coverage account of one kind of field.
type clearGroup struct {
	Total      int     `json:"total"`
	Clear      int     `json:"clear"`
	ClearWrong int     `json:"clear_wrong"`
	Upper95    float64 `json:"upper95"` // of clear_wrong / clear, over draws: for these hands
	AskedShare float64 `json:"asked_share"`
	// Reasons counts why fields are asked; one with two reasons counts in both.
	Reasons map[sheetmodel.DoubtKind]reason `json:"asked_for,omitempty"`
	// Curve pairs the share asked with the share of all that would be wrong but clear.
	Curve       [][2]float64 `json:"curve"`
	WrongAt3pct *float64     `json:"wrong_at_3pct"`
	WrongAt10   *float64     `json:"wrong_at_10pct"`
	// Glyphs: the same bound over a largest set of fields that share no glyph.
	GlyphFree   int     `json:"glyph_free_clear"`
	GlyphWrong  int     `json:"glyph_free_clear_wrong"`
	GlyphUpper  float64 `json:"glyph_free_upper95"`
	Writers     int     `json:"writers"`
	WritersBad  int     `json:"writers_with_clear_wrong"`
	WriterUpper float64 `json:"writers_upper95"`
}

type digitGroup struct {
	MadeWith
	MNISTErrors int `json:"mnist_errors"`
	Of          int `json:"of"`
}

type speedGroup struct {
	MadeWith
	PhotoVsDecode *float64 `json:"photo_vs_decode"`
	Stack60S      *float64 `json:"stack60_s"`
	Stack60FirstS *float64 `json:"stack60_first_s"`
	Stack60PeakMB *float64 `json:"stack60_peak_mb"`
}

type rulesGroup struct {
	MadeWith
	MS300x60 *float64 `json:"ms_300x60"`
}

type reviewGroup struct {
	MadeWith
	KeyToNextMSP95 *float64 `json:"key_to_next_ms_p95"`
}
