package racefolder

import (
	"embed"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

var ruleKeys = []string{
	"name", "lost_ski", "lost_ski_from", "lost_ski_basis", "run2_after_dsq", "run2_basis",
	"fault_then_dnf", "fault_then_dnf_basis", "climb_back", "climb_back_how", "climb_back_basis",
	"overtaken_penalised", "overtaken_basis", "protest_minutes", "protest_from", "protest_basis",
	"jury", "jury_basis", "judges_released_by", "release_basis",
	"drawing_demanded", "drawing_basis", "small_cards", "small_cards_basis", "second_writing", "notes",
}

// The words of fault_then_dnf.
const (
	faultInforms  = "inform"
	faultProposes = "propose"
)

//go:embed rulesets/*.yaml
var ruleSetFiles embed.FS

// DefaultRuleSet is the shipped set of a race that names none.
const DefaultRuleSet = "international"

// DefaultRules are the settings of a race whose file has no rules: those of the international rules
// where they say something, else common practice. A league that differs names its own basis.
func DefaultRules() sheetmodel.RuleSettings {
	r, err := ShippedRules(DefaultRuleSet)
	if err != nil {
		panic(err) // compiled in; a test reads it
	}
	return r
}

// RuleSets names the shipped rule sets, the default first.
func RuleSets() []string {
	names := []string{DefaultRuleSet}
	entries, err := ruleSetFiles.ReadDir("rulesets")
	if err != nil {
		return names // compiled in
	}
	for _, e := range entries {
		if name := strings.TrimSuffix(e.Name(), ".yaml"); name != DefaultRuleSet {
			names = append(names, name)
		}
	}
	return names
}

// ShippedRules returns a shipped rule set; RuleSets names them.
func ShippedRules(name string) (sheetmodel.RuleSettings, error) {
	text, err := ShippedRulesText(name)
	if err != nil {
		return sheetmodel.RuleSettings{}, err
	}
	r, _, err := ParseRuleSet(name+".yaml", []byte(text))
	r.Set = name
	return r, err
}

// ShippedRulesText returns a shipped rule set as the file it is.
func ShippedRulesText(name string) (string, error) {
	text, err := fs.ReadFile(ruleSetFiles, "rulesets/"+name+".yaml")
	if err != nil {
		return "", fmt.Errorf("rule set %q is not shipped; name one of %s, or a YAML file", shorten(name), strings.Join(RuleSets(), ", "))
	}
	return string(text), nil
}

// ParseRuleSet reads a rule set from YAML, as schema/rule-set.schema.json describes it; file is named in
// messages. hints are no mistakes: what a referee could not look up.
//
// The error joins a *FileError for each mistake, with its line and what to do. A set stands alone: it
// begins from nothing, so every setting has to be there with its basis.
func ParseRuleSet(file string, text []byte) (r sheetmodel.RuleSettings, hints []string, err error) {
	p := &problems{file: file}
	node := parseYAML(p, text)
	if node == nil {
		return r, nil, p.err()
	}
	m := mappingOf(p, node, "", append([]string{"format"}, ruleKeys...)...)
	if m == nil {
		return r, nil, p.err()
	}
	if f := m.need("format", "1"); f != "" && f != "1" {
		m.fail("format", "format %q is not one this program reads; write format: 1", shorten(f))
	}
	r = m.ruleSet()
	if err = p.err(); err != nil {
		return r, nil, err
	}
	r.Set = file
	return r, LintRules(r), nil
}

// ruleSet reads all settings; those that a race may leave to its set must be there in the set itself.
func (m *mapping) ruleSet() sheetmodel.RuleSettings {
	for _, must := range []string{"name", "lost_ski", "run2_after_dsq", "fault_then_dnf", "climb_back", "overtaken_penalised",
		"protest_minutes", "protest_from", "jury", "judges_released_by", "drawing_demanded", "small_cards"} {
		if !m.has(must) {
			m.p.at(m.node.Line, "%s%s is missing; a rule set says all of it, each with its basis", m.where, must)
		}
	}
	return m.settings(sheetmodel.RuleSettings{})
}

var localRule = regexp.MustCompile(`(?i)^local rule( no\.?)? *[0-9]+`)

// citesArticle is the shape of an article in a basis: three digits, then its parts.
var citesArticle = regexp.MustCompile(`\b[1-9][0-9]{2}(\.[0-9]+)*\b`)

// LintRules returns what a referee could not look up in a set, or would be surprised by; empty if nothing.
func LintRules(r sheetmodel.RuleSettings) []string {
	var hints []string
	for _, s := range r.Settings("") {
		if !localRule.MatchString(s.Basis) && !citesArticle.MatchString(s.Basis) && !slices.Contains([]string{"common practice", "own logic"}, s.Basis) {
			hints = append(hints, fmt.Sprintf("%s rests on %q: write an article, local rule no. N, or common practice", s.Key, s.Basis))
		}
	}
	hints = append(hints, lintLostSki(r)...)
	if len(r.Jury) > 0 && len(r.Jury)%2 == 0 {
		hints = append(hints, fmt.Sprintf("the jury has %d members: say in a local rule who breaks a tie", len(r.Jury)))
	}
	return hints
}

func lintLostSki(r sheetmodel.RuleSettings) []string {
	if r.LostSki == sheetmodel.LostSkiNever || localRule.MatchString(r.LostSkiBasis) {
		return nil
	}
	return []string{fmt.Sprintf("lost_ski counts lost skis on %q: no published article that does is known; name the local rule with its number", r.LostSkiBasis)}
}

// readArticles are the articles of the international rules that the checks' authors had before them, in editions
// of about 2012 to 2019, whole or in part; an article's parts go with it.
var readArticles = []string{
	"606.1", "614.2.3", "615.3", "616", "617.1", "617.2", "621.3", "622.1", "623", "627", "646.2", "646.3", "646.4",
	"661", "662.1", "663.2", "664", "665", "666", "802", "803.2", "804", "805", "901.2", "905", "906",
}

var citesICR = regexp.MustCompile(`\bICR ([1-9][0-9]{2}(?:\.[0-9]+)*)`)

// Unread says in one sentence which articles of the international rules a race rests codes or settings on that
// were never read for gatefold: they may be right, and nobody has looked. Empty where there is none.
func Unread(r *sheetmodel.Race) []string {
	var unread []string
	look := func(what, basis string) {
		for _, m := range citesICR.FindAllStringSubmatch(basis, -1) {
			known := slices.ContainsFunc(readArticles, func(a string) bool { return m[1] == a || strings.HasPrefix(m[1], a+".") })
			if !known && !slices.Contains(unread, m[1]+" ("+what+")") {
				unread = append(unread, m[1]+" ("+what+")")
			}
		}
	}
	for _, c := range r.Codes.Codes {
		look("code "+c.Code, c.Basis)
	}
	for _, s := range r.Rules.Settings("") {
		look(s.Key, s.Basis)
	}
	if len(unread) == 0 {
		return nil
	}
	return []string{"look up in the edition of your race: ICR " + strings.Join(unread, ", ") + "; gatefold's authors had no text of it before them"}
}

// readRules reads the rules of a race on top of the set it names, shipped or a file of its folder. A
// setting that is written needs its basis beside it: the draft prints it, and a referee must be able to
// look it up.
func readRules(files *files, p *problems, top *mapping) sheetmodel.RuleSettings {
	r := baseRules(files, top)
	n := top.vals["rules"]
	if isNull(n) {
		return r
	}
	m := mappingOf(p, n, "rules", ruleKeys...)
	if m == nil {
		return r
	}
	r = m.settings(r)
	if m.has("lost_ski") {
		for _, h := range lintLostSki(r) {
			p.note(h)
		}
	}
	return r
}

func baseRules(files *files, top *mapping) sheetmodel.RuleSettings {
	name := top.text("rule_set")
	if name == "" {
		return DefaultRules()
	}
	if !strings.HasSuffix(strings.ToLower(name), ".yaml") {
		r, err := ShippedRules(strings.ToLower(name))
		if err != nil {
			top.fail("rule_set", "%s", err)
			return DefaultRules()
		}
		return r
	}
	text, err := files.read(name)
	if err != nil {
		top.fail("rule_set", "rule set %s; write the name of a YAML file beside race.yaml, or one of %s", err, strings.Join(RuleSets(), ", "))
		return DefaultRules()
	}
	p := files.problems(name)
	node := parseYAML(p, text)
	if node == nil {
		return DefaultRules()
	}
	m := mappingOf(p, node, "", append([]string{"format"}, ruleKeys...)...)
	if m == nil {
		return DefaultRules()
	}
	r := m.ruleSet()
	r.Set = name
	for _, h := range LintRules(r) {
		p.note(h)
	}
	return r
}

// settings reads what is written over what holds without it.
func (m *mapping) settings(r sheetmodel.RuleSettings) sheetmodel.RuleSettings {
	if m.has("name") {
		r.Name = m.text("name")
	}
	m.lostSki(&r)
	r.Run2AfterDSQ = oneOf(m, "run2_after_dsq", r.Run2AfterDSQ, sheetmodel.Run2No, sheetmodel.Run2Yes, sheetmodel.Run2Practice)
	r.Run2Basis = m.basis("run2_after_dsq", "run2_basis", r.Run2Basis)
	if m.has("fault_then_dnf") {
		r.FaultThenDNF = strings.ToLower(m.text("fault_then_dnf"))
		if r.FaultThenDNF != faultInforms && r.FaultThenDNF != faultProposes {
			m.fail("fault_then_dnf", "fault_then_dnf %q is not known; write inform (a racer who then did not finish is only noted) or propose", shorten(m.text("fault_then_dnf")))
		}
	}
	r.FaultDNFBasis = m.basis("fault_then_dnf", "fault_then_dnf_basis", r.FaultDNFBasis)
	r.ClimbBack = oneOf(m, "climb_back", r.ClimbBack, sheetmodel.ClimbByDiscipline, sheetmodel.ClimbAlways, sheetmodel.ClimbNoStop, sheetmodel.ClimbNever)
	if m.has("climb_back_how") {
		r.ClimbBackHow = m.text("climb_back_how")
	}
	r.ClimbBackBasis = m.basis("climb_back", "climb_back_basis", r.ClimbBackBasis)
	r.Overtaken = m.yes("overtaken_penalised", r.Overtaken)
	r.OvertakenBasis = m.basis("overtaken_penalised", "overtaken_basis", r.OvertakenBasis)
	if m.has("protest_minutes") {
		minutes, err := strconv.Atoi(m.text("protest_minutes"))
		if err != nil || minutes < 1 || minutes > 24*60 {
			m.fail("protest_minutes", "protest_minutes %q is not a number of minutes; write 15", shorten(m.text("protest_minutes")))
		} else {
			r.ProtestMinutes = minutes
		}
	}
	r.ProtestFrom = oneOf(m, "protest_from", r.ProtestFrom, sheetmodel.ProtestFromPosting, sheetmodel.ProtestFromAnnouncement, sheetmodel.ProtestFromRaceEnd)
	r.ProtestBasis = m.basis("protest_minutes", "protest_basis", m.basis("protest_from", "protest_basis", r.ProtestBasis))
	if m.has("jury") {
		r.Jury = nil
		for _, it := range m.items("jury") {
			if slices.Contains(r.Jury, it.text) {
				m.fail("jury", "jury: %s is written twice; name each member once, by function", it.text)
			}
			r.Jury = append(r.Jury, it.text)
		}
		if len(r.Jury) == 0 {
			m.fail("jury", "jury names nobody, so nobody could decide a protest; write [referee, chief of race, start referee], or leave it out")
		}
	}
	r.JuryBasis = m.basis("jury", "jury_basis", r.JuryBasis)
	if m.has("judges_released_by") {
		r.ReleasedBy = m.text("judges_released_by")
	}
	r.ReleaseBasis = m.basis("judges_released_by", "release_basis", r.ReleaseBasis)
	r.DrawingDemanded = m.yes("drawing_demanded", r.DrawingDemanded)
	r.DrawingBasis = m.basis("drawing_demanded", "drawing_basis", r.DrawingBasis)
	r.SmallCards = m.yes("small_cards", r.SmallCards)
	r.SmallCardsBasis = m.basis("small_cards", "small_cards_basis", r.SmallCardsBasis)
	r.SecondWriting = m.yes("second_writing", r.SecondWriting)
	if m.has("notes") {
		r.Notes = m.notes()
	}
	return r
}

// oneOf reads one of several words, or fallback when the key is absent.
func oneOf[T ~string](m *mapping, key string, fallback T, words ...T) T {
	if !m.has(key) {
		return fallback
	}
	written := strings.ToLower(strings.ReplaceAll(strings.Join(strings.Fields(m.text(key)), "-"), "_", "-"))
	if written == "true" || written == "false" {
		written = map[string]string{"true": "yes", "false": "no"}[written]
	}
	if slices.Contains(words, T(written)) {
		return T(written)
	}
	var known []string
	for _, w := range words {
		known = append(known, string(w))
	}
	m.fail(key, "%s %q is not known; write one of %s", key, shorten(m.text(key)), strings.Join(known, ", "))
	return fallback
}

// lostSki reads "never-counts", "out-at-once", "out-from 2", or "out-from" with lost_ski_from beside it.
func (m *mapping) lostSki(r *sheetmodel.RuleSettings) {
	const ways = "write never-counts, out-at-once, or out-from 2 (out from the second)"
	words := strings.Fields(strings.ToLower(strings.ReplaceAll(m.text("lost_ski"), "_", "-")))
	nth := m.text("lost_ski_from")
	switch {
	case len(words) == 0:
		if nth != "" {
			m.fail("lost_ski_from", "lost_ski_from has no lost_ski beside it; write lost_ski: out-from %s", nth)
		}
		return
	case len(words) == 2 && words[0] == string(sheetmodel.LostSkiFrom) && nth == "":
		nth = words[1]
	case len(words) != 1:
		m.fail("lost_ski", "lost_ski %q is not known; %s", shorten(m.text("lost_ski")), ways)
		return
	}
	r.LostSki = sheetmodel.LostSki(words[0])
	switch r.LostSki {
	case sheetmodel.LostSkiNever, sheetmodel.LostSkiOut:
		if nth != "" {
			m.fail("lost_ski_from", "lost_ski_from belongs to out-from only; remove it")
		}
	case sheetmodel.LostSkiFrom:
		n, err := strconv.Atoi(nth)
		if err != nil || n < 2 || n > 9 {
			m.fail("lost_ski", "out-from needs the number of the lost ski, 2 to 9; write lost_ski: out-from 2")
			return
		}
		r.LostSkiFrom = n
	default:
		m.fail("lost_ski", "lost_ski %q is not known; %s", shorten(words[0]), ways)
		return
	}
	r.LostSkiBasis = m.basis("lost_ski", "lost_ski_basis", r.LostSkiBasis)
}

// basis returns the text a setting rests on.
func (m *mapping) basis(setting, key, fallback string) string {
	switch {
	case m.has(key):
		return m.text(key)
	case m.has(setting):
		m.fail(setting, "%s is set without its basis; add %s: with the article or local rule it rests on", setting, key)
	}
	return fallback
}

// notes are sentences, so a comma doesn't part them.
func (m *mapping) notes() []string {
	if t := scalarOf(m, "notes"); t != "" {
		return []string{strings.TrimSpace(t)}
	}
	var notes []string
	for _, n := range m.nodes("notes") {
		if kindWord(n) == "nothing" || n.Value == "" {
			m.p.at(n.Line, "%snotes must be sentences, found %s", m.where, kindWord(n))
			continue
		}
		notes = append(notes, strings.TrimSpace(n.Value))
	}
	return notes
}
