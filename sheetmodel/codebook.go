package sheetmodel

// Effect says what a code does when a certain bib carries it.
type Effect string

// What a code can do.
const (
	EffectPropose  Effect = "propose"      // proposes a disqualification alone
	EffectLostSki  Effect = "lost-ski"     // counted by the lost-ski setting
	EffectLostTwo  Effect = "lost-ski-two" // second time, one judge saw both: stands for two losses
	EffectInform   Effect = "inform"       // information only
	EffectLeft     Effect = "left-course"  // the racer left the course here; ends the run
	EffectHindered Effect = "hindered"     // hindrance, a re-run may follow
	EffectMended   Effect = "mended"       // climbed back and passed the gate after all
	// EffectOvertaken proposes only where the race penalises it. The other bib is never a call of its own.
	EffectOvertaken Effect = "overtaken"
)

// Code is one entry of a league's code book.
type Code struct {
	Code    string `json:"code" yaml:"code"`       // what is ticked or written, e.g. "F"
	Word    string `json:"word" yaml:"word"`       // short word printed over the tick box
	Meaning string `json:"meaning" yaml:"meaning"` // one sentence for card, page and draft
	Effect  Effect `json:"effect" yaml:"effect"`
	Gate    bool   `json:"gate" yaml:"gate"`       // a gate is required
	Drawing bool   `json:"drawing" yaml:"drawing"` // a drawing is expected
	Tick    bool   `json:"tick" yaml:"tick"`       // has a tick box of its own in each row
	Basis   string `json:"basis" yaml:"basis"`     // article or local rule, as printed on the draft
}

// CodeBook is the list of a league's codes, in print order.
type CodeBook struct {
	Name  string `json:"name" yaml:"name"`
	Codes []Code `json:"codes" yaml:"codes"`
}

// Find returns the code with the given text, and whether the book has it.
func (b CodeBook) Find(code string) (Code, bool) {
	for _, c := range b.Codes {
		if c.Code == code {
			return c, true
		}
	}
	return Code{}, false
}
