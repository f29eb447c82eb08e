package sheetmodel

import (
	"fmt"
	"strings"
)

// LostSki says what lost skis do in this race.
type LostSki string

// The lost-ski settings.
const (
	LostSkiNever LostSki = "never-counts"
	LostSkiOut   LostSki = "out-at-once"
	LostSkiFrom  LostSki = "out-from" // from the n-th, RuleSettings.LostSkiFrom
)

// ClimbBack says whether a racer may climb back to a gate that was missed.
type ClimbBack string

// The climb-back settings.
const (
	// ClimbByDiscipline: after a full stop in SL only; without one everywhere.
	ClimbByDiscipline ClimbBack = "by-discipline"
	ClimbAlways       ClimbBack = "always"
	ClimbNoStop       ClimbBack = "without-a-stop"
	ClimbNever        ClimbBack = "never"
)

// Run2 says who may start run 2 after a disqualification in run 1.
type Run2 string

// The run-2 settings.
const (
	Run2No       Run2 = "no"
	Run2Yes      Run2 = "yes"
	Run2Practice Run2 = "practice" // starts, and nothing of it counts
)

// ProtestFrom says what starts the protest period.
type ProtestFrom string

// What can start it.
const (
	ProtestFromPosting      ProtestFrom = "posting"
	ProtestFromAnnouncement ProtestFrom = "announcement"
	ProtestFromRaceEnd      ProtestFrom = "race-end"
)

// RuleSettings are the race's choices where rule books differ. Each has the article or local rule it rests on.
type RuleSettings struct {
	Name            string      `json:"name"`
	Set             string      `json:"rule_set,omitempty"` // the shipped set or file that the race builds on
	LostSki         LostSki     `json:"lost_ski"`
	LostSkiFrom     int         `json:"lost_ski_from,omitempty"` // n of out-from
	LostSkiBasis    string      `json:"lost_ski_basis"`
	Run2AfterDSQ    Run2        `json:"run2_after_dsq"`
	Run2Basis       string      `json:"run2_basis"`
	FaultThenDNF    string      `json:"fault_then_dnf"` // "inform" or "propose"
	FaultDNFBasis   string      `json:"fault_then_dnf_basis"`
	ClimbBack       ClimbBack   `json:"climb_back"`
	ClimbBackHow    string      `json:"climb_back_how,omitempty"` // how far, in the league's words; printed, never computed
	ClimbBackBasis  string      `json:"climb_back_basis"`
	Overtaken       bool        `json:"overtaken_penalised"`
	OvertakenBasis  string      `json:"overtaken_basis"`
	ProtestMinutes  int         `json:"protest_minutes"`
	ProtestFrom     ProtestFrom `json:"protest_from"`
	ProtestBasis    string      `json:"protest_basis"`
	Jury            []string    `json:"jury"` // by function, never by name
	JuryBasis       string      `json:"jury_basis"`
	ReleasedBy      string      `json:"judges_released_by"`
	ReleaseBasis    string      `json:"release_basis"`
	DrawingDemanded bool        `json:"drawing_demanded"` // a fault without a drawing blocks the call
	DrawingBasis    string      `json:"drawing_basis"`
	// SmallCards: many small cards of one place come in on the way, so two of them need no reason.
	SmallCards      bool     `json:"small_cards"`
	SmallCardsBasis string   `json:"small_cards_basis"`
	SecondWriting   bool     `json:"second_writing"` // rows have a box "same bib once more"
	Notes           []string `json:"notes,omitempty"`
}

// Setting is one choice as it is printed: what it is about, what holds, and what it rests on.
type Setting struct {
	Key   string `json:"key"` // as in the race file
	Words string `json:"words"`
	Basis string `json:"basis"`
}

// Settings lists all choices in words, in a fixed order. Whatever changes a call is among them.
func (r RuleSettings) Settings(discipline string) []Setting {
	lost := map[LostSki]string{
		LostSkiNever: "lost skis propose nothing", LostSkiOut: "a lost ski puts the racer out, unless after the second-last gate",
	}[r.LostSki]
	if r.LostSki == LostSkiFrom {
		lost = fmt.Sprintf("out from lost ski no. %d of a run", r.LostSkiFrom)
	}
	dnf := "a fault of a racer who then did not finish proposes nothing"
	if r.FaultThenDNF == "propose" {
		dnf = "a fault is proposed though the racer then did not finish"
	}
	climb := map[ClimbBack]string{
		ClimbAlways: "climbing back to a missed gate is allowed", ClimbNoStop: "after a full stop a racer may pass no further gate",
		ClimbNever: "climbing back to a missed gate is not allowed",
	}[r.EffectiveClimbBack(discipline)]
	if discipline == "SL" && (r.ClimbBack == ClimbByDiscipline || r.ClimbBack == "") {
		climb += " unless the next racer is hindered or has already passed" // source: ICR 614.2.3
	}
	if r.ClimbBackHow != "" {
		climb += "; " + r.ClimbBackHow
	}
	return []Setting{
		{"lost_ski", orUnset(lost), r.LostSkiBasis},
		{"climb_back", orUnset(climb), r.ClimbBackBasis},
		{"fault_then_dnf", dnf, r.FaultDNFBasis},
		{"run2_after_dsq", map[Run2]string{
			Run2Yes: "who is out in run 1 may start run 2", Run2Practice: "who is out in run 1 may start run 2 for practice; nothing of it counts",
			Run2No: "who is out in run 1 may not start run 2", "": "who is out in run 1 may not start run 2",
		}[r.Run2AfterDSQ], r.Run2Basis},
		{"overtaken_penalised", yesWords(r.Overtaken, "being overtaken is proposed", "being overtaken proposes nothing"), r.OvertakenBasis},
		{"drawing_demanded", yesWords(r.DrawingDemanded, "a fault without a drawing is set aside", "a fault without a drawing is asked about"), r.DrawingBasis},
		{"protest_minutes", fmt.Sprintf("protests within %d minutes from %s", r.ProtestMinutes, map[ProtestFrom]string{
			ProtestFromPosting: "the posting of the list", ProtestFromAnnouncement: "the announcement", ProtestFromRaceEnd: "the end of the race",
			"": "the posting of the list",
		}[r.ProtestFrom]), r.ProtestBasis},
		{"jury", "the jury: " + orUnset(strings.Join(r.Jury, ", ")), r.JuryBasis},
		{"judges_released_by", "gate judges are released by the " + orUnset(r.ReleasedBy), r.ReleaseBasis},
		{"small_cards", yesWords(r.SmallCards, "many small cards of one place, collected on the way", "one card a place, or numbered ones, collected after the run"), r.SmallCardsBasis},
	}
}

// EffectiveClimbBack resolves ClimbByDiscipline. An empty setting is that one.
func (r RuleSettings) EffectiveClimbBack(discipline string) ClimbBack {
	if r.ClimbBack != ClimbByDiscipline && r.ClimbBack != "" {
		return r.ClimbBack
	}
	if discipline == "SL" {
		return ClimbAlways
	}
	return ClimbNoStop
}

func yesWords(yes bool, is, not string) string {
	if yes {
		return is
	}
	return not
}

func orUnset(words string) string {
	if words == "" {
		return "not set"
	}
	return words
}
