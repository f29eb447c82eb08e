package rules_test

import (
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

// inventedRace is the race of all cases: Blue with bibs 1-60 without 13, Red with 61-120, the sections
// A to E of Blue in both runs.
func inventedRace() sheetmodel.Race {
	none := sheetmodel.BibList{Given: sheetmodel.ListNone}
	r := sheetmodel.Race{
		Format: 1, ID: "lantern", Name: "Lantern Cup", Discipline: "GS", Courses: []string{"Blue", "Red"},
		Runs: []sheetmodel.Run{
			{
				Number: 1, Reruns: none, DidNotStart: listOf("22"), DidNotEnd: listOf("31"),
				Courses: []sheetmodel.CourseRun{
					{Course: "Blue", Gates: labels("1-34"), Places: placesOf("A:1-7", "B:7-14", "C:15-21", "D:22-28", "E:29-34")},
					{Course: "Red", Gates: labels("1-30")},
				},
			},
			{
				Number: 2, Reruns: none, DidNotStart: none, DidNotEnd: none,
				Courses: []sheetmodel.CourseRun{{Course: "Blue", Gates: labels("1-31")}, {Course: "Red", Gates: labels("1-28")}},
			},
		},
		Codes: sheetmodel.CodeBook{Name: "invented", Codes: []sheetmodel.Code{
			{Code: "F", Word: "fault", Meaning: "missed a gate", Effect: sheetmodel.EffectPropose, Gate: true, Drawing: true, Tick: true, Basis: "661.4"},
			{Code: "L", Word: "ski", Meaning: "lost a ski", Effect: sheetmodel.EffectLostSki, Gate: true, Tick: true, Basis: "661.4.1"},
			{Code: "M", Word: "2nd ski", Meaning: "lost a ski the second time, I saw both", Effect: sheetmodel.EffectLostTwo, Gate: true, Tick: true, Basis: "local rule 1"},
			{Code: "X", Word: "left", Meaning: "left the course", Effect: sheetmodel.EffectLeft, Gate: true, Tick: true, Basis: "614.2.3"},
			{Code: "H", Word: "hindered", Meaning: "was hindered", Effect: sheetmodel.EffectHindered, Gate: true, Tick: true, Basis: "623"},
			{Code: "O", Word: "help", Meaning: "took outside help", Effect: sheetmodel.EffectPropose, Gate: true, Basis: "661.3"},
			{Code: "U", Word: "mended", Meaning: "climbed back and passed", Effect: sheetmodel.EffectMended, Gate: true, Basis: "614.2.3"},
			{Code: "Y", Word: "overtaken", Meaning: "was overtaken", Effect: sheetmodel.EffectOvertaken, Gate: true, Basis: "local rule 2"},
			{Code: "BB", Word: "both skis", Meaning: "both skis off at once", Effect: sheetmodel.EffectPropose, Gate: true, Basis: "local rule 4"},
			{Code: "G", Word: "no way", Meaning: "climbed back and did not give way", Effect: sheetmodel.EffectPropose, Gate: true, Basis: "local rule 5"},
			{Code: "N", Word: "note", Meaning: "a note", Effect: sheetmodel.EffectInform, Basis: "none"},
		}},
		Rules: sheetmodel.RuleSettings{
			Name: "as the international rules", LostSki: sheetmodel.LostSkiNever, LostSkiBasis: "661.4.1", FaultThenDNF: "inform",
			FaultDNFBasis: "common practice", Run2Basis: "627", DrawingBasis: "661.2.4",
		},
		Forerunners: none,
	}
	for bib := 1; bib <= 120; bib++ {
		course := "Blue"
		if bib > 60 {
			course = "Red"
		}
		if bib != 13 {
			r.Starters = append(r.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: strconv.Itoa(bib)}, Course: course})
		}
	}
	return r
}

// run2Places are the sections of Blue after the reset; they join the race once a case is about run 2.
func run2Places() []sheetmodel.Place {
	return placesOf("A:1-6", "B:7-12", "C:13-18", "D:19-25", "E:26-31")
}

func labels(text string) []string {
	var all []string
	for part := range strings.SplitSeq(text, ",") {
		from, to, ok := strings.Cut(part, "-")
		a, errA := strconv.Atoi(from)
		b, errB := strconv.Atoi(to)
		if !ok || errA != nil || errB != nil {
			all = append(all, part)
			continue
		}
		for n := a; n <= b; n++ {
			all = append(all, strconv.Itoa(n))
		}
	}
	return all
}

func placesOf(texts ...string) []sheetmodel.Place {
	var all []sheetmodel.Place
	for i, t := range texts {
		name, gates, _ := strings.Cut(t, ":")
		all = append(all, sheetmodel.Place{Card: i + 1, Name: name, Gates: labels(gates)})
	}
	return all
}

func listOf(text string) sheetmodel.BibList {
	switch text {
	case "none":
		return sheetmodel.BibList{Given: sheetmodel.ListNone}
	case "unknown":
		return sheetmodel.BibList{Given: sheetmodel.ListUnknown}
	}
	l := sheetmodel.BibList{Given: sheetmodel.ListGiven}
	for n := range strings.SplitSeq(text, ",") { // 22, or girls:22
		group, number, ok := strings.Cut(n, ":")
		if !ok {
			group, number = "", n
		}
		l.Bibs = append(l.Bibs, sheetmodel.Bib{Group: group, Number: number})
	}
	return l
}
