package say

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"github.com/leonelquinteros/gotext"
	"golang.org/x/text/language"
)

// Catalogue is one language. A nil one is English, in which everything is written. Safe for concurrent use.
type Catalogue struct {
	tag      language.Tag
	po       *gotext.Po
	exact    map[string]string
	patterns []pattern

	mu    sync.Mutex
	known map[string]string // texts that were looked for, and what was found
}

// mostKnown bounds what a catalogue remembers; a race has some hundred different sentences.
const mostKnown = 8192

// Parse reads a language file: a gettext PO file whose header names Language and Plural-Forms. name is the file's,
// for errors. What is not translated, or marked fuzzy, stays English; a translation without the placeholders of its
// English text is an error, since it would hide a bib or a gate.
func Parse(name string, data []byte) (*Catalogue, error) {
	if !utf8.Valid(data) {
		return nil, fmt.Errorf("language file %s: it is not UTF-8; save it as UTF-8", name)
	}
	po := gotext.NewPo()
	po.Parse(data)
	tag, err := language.Parse(strings.ReplaceAll(po.Language, "_", "-"))
	if err != nil || po.Language == "" {
		return nil, fmt.Errorf("language file %s: its header names no language; write a line \"Language: de\\n\", with your language's code, into the first msgstr", name)
	}
	c := &Catalogue{tag: tag, po: po, exact: map[string]string{}, known: map[string]string{}}
	var errs []error
	filled := 0
	for id, t := range po.GetDomain().GetTranslations() {
		if id == "" {
			continue
		}
		for _, text := range t.Trs {
			if text == "" {
				continue
			}
			filled++
			if want, got := places(id), places(text); !slices.Equal(want, got) {
				errs = append(errs, fmt.Errorf("language file %s: %q has %s, its translation %q has %s; keep them all", name, id, listed(want), text, listed(got)))
			}
		}
		if t.PluralID != "" {
			c.patterns = append(c.patterns, compile(id, t.PluralID), compile(t.PluralID, t.PluralID).of(id))
			continue
		}
		if t.Trs[0] == "" {
			continue
		}
		c.exact[id] = t.Trs[0]
		if strings.Contains(id, "{0}") && !strings.Contains(id, "<") {
			c.patterns = append(c.patterns, compile(id, ""))
		}
	}
	if filled == 0 {
		errs = append(errs, fmt.Errorf("language file %s: nothing in it is translated; it should be a gettext PO file made from review/say/gatefold.pot", name))
	}
	slices.SortFunc(errs, func(a, b error) int { return strings.Compare(a.Error(), b.Error()) })
	// The pattern that says most is tried first.
	slices.SortFunc(c.patterns, func(a, b pattern) int {
		if a.letters != b.letters {
			return b.letters - a.letters
		}
		return strings.Compare(a.id, b.id)
	})
	return c, errors.Join(errs...)
}

// Lang returns the language's code as HTML wants it (BCP 47).
func (c *Catalogue) Lang() string {
	if c == nil {
		return "en"
	}
	return c.tag.String()
}

// English reports whether texts stay as they are written.
func (c *Catalogue) English() bool { return c == nil }

var placeholder = regexp.MustCompile(`\{(\d+)\}|</?(\d+)>`)

// places lists the placeholders of a text, in no order that matters.
func places(s string) []string {
	all := placeholder.FindAllString(s, -1)
	slices.Sort(all)
	return all
}

func listed(all []string) string {
	if len(all) == 0 {
		return "no placeholder"
	}
	return strings.Join(all, " ")
}

// pattern finds texts that were made from a message.
type pattern struct {
	id, plural string
	find, late *regexp.Regexp // each value as short, or as long, as can be
	longest    string         // literal; what doesn't hold it isn't a text of this message
	letters    int
}

func (p pattern) of(id string) pattern { p.id = id; return p }

func compile(id, plural string) pattern {
	p := pattern{id: id, plural: plural}
	var b strings.Builder
	b.WriteString("(?s)^")
	at := 0
	literal := func(s string) {
		b.WriteString(regexp.QuoteMeta(s))
		if len(s) > len(p.longest) {
			p.longest = s
		}
		for _, r := range s {
			if unicode.IsLetter(r) {
				p.letters++
			}
		}
	}
	for _, m := range placeholder.FindAllStringIndex(id, -1) {
		literal(id[at:m[0]])
		if plural != "" {
			b.WriteString(`(\d+)`)
		} else {
			b.WriteString("(.+?)")
		}
		at = m[1]
	}
	literal(id[at:])
	b.WriteString("$")
	p.find = regexp.MustCompile(b.String())
	p.late = regexp.MustCompile(strings.ReplaceAll(b.String(), "(.+?)", "(.+)"))
	return p
}

// fewestLetters is what a pattern must have of its own: one with less would find texts that were never made from it.
const fewestLetters = 2

// plentyLetters are so many that a text was made from the message that has them, whatever was put into it.
const plentyLetters = 16

// Message returns the translation of a message as it stands in the catalogue, with its placeholders.
func (c *Catalogue) Message(id string) (string, bool) {
	if c == nil {
		return "", false
	}
	t, ok := c.exact[id]
	return t, ok
}

// Plural returns a number and the word for so many.
func (c *Catalogue) Plural(n int, one, many string) string {
	id, ids := "{0} "+one, "{0} "+many
	if c != nil {
		if t := c.po.GetDomain().GetTranslations()[id]; t != nil && t.PluralID == ids {
			if s := c.po.GetN(id, ids, n); s != "" {
				return strings.ReplaceAll(s, "{0}", fmt.Sprint(n))
			}
		}
	}
	if n != 1 {
		id = ids
	}
	return strings.ReplaceAll(id, "{0}", fmt.Sprint(n))
}

// Text translates a finished sentence. The rooms that make sentences make them in English, for pages, lists and archives
// alike, and know no language; here they are recognised by the message they were made from. What was put into a
// message is looked up in turn, so that a sentence within a sentence is translated too. A text that no message made,
// such as a name, comes back unchanged.
func (c *Catalogue) Text(s string) string {
	if c == nil || s == "" {
		return s
	}
	c.mu.Lock()
	t, ok := c.known[s]
	c.mu.Unlock()
	if ok {
		return t
	}
	t, _ = c.text(s, 0)
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.known) >= mostKnown {
		clear(c.known)
	}
	c.known[s] = t
	return t
}

// deepest bounds how far sentences stand within sentences.
const deepest = 6

func (c *Catalogue) text(s string, depth int) (string, bool) {
	if t, ok := c.exact[s]; ok && !strings.Contains(s, "{0}") {
		return t, true
	}
	if depth > deepest || !strings.ContainsFunc(s, unicode.IsLetter) {
		return s, false
	}
	trimmed := strings.TrimSpace(s)
	if trimmed != s && trimmed != "" {
		at := strings.Index(s, trimmed)
		t, ok := c.text(trimmed, depth+1)
		return s[:at] + t + s[at+len(trimmed):], ok
	}
	for _, form := range sentenceForms(s) {
		if t, ok := c.exact[form.of]; ok && form.of != s {
			return form.as(t), true
		}
	}
	if inside, ok := strings.CutPrefix(s, "("); ok && strings.HasSuffix(inside, ")") {
		t, ok := c.text(strings.TrimSuffix(inside, ")"), depth+1)
		return "(" + t + ")", ok
	}
	best, bestKnown, bestLetters := "", -1, 0
	several := len(sentences(s)) > 1
	for _, form := range sentenceForms(s) {
		for _, p := range c.patterns {
			if p.letters < fewestLetters || !strings.Contains(form.of, p.longest) {
				continue
			}
			if several && p.letters < plentyLetters {
				continue // "{0} is on {1}" is in many a sentence, and says nothing of the next one
			}
			m := p.find.FindStringSubmatch(form.of)
			if m == nil {
				continue
			}
			if p.plural != "" {
				n := 0
				if _, err := fmt.Sscan(m[1], &n); err != nil {
					continue // more digits than any count has
				}
				return form.as(c.Plural(n, strings.TrimPrefix(p.id, "{0} "), strings.TrimPrefix(p.plural, "{0} "))), true
			}
			values, known, score, sure := c.values(p, m[1:], depth)
			if len(values) > 1 {
				// "{0} by {1}" may be cut at another place as well; where more is known, it was.
				if others, otherKnown, more, ok := c.values(p, p.late.FindStringSubmatch(form.of)[1:], depth); ok && (more > score || !sure) {
					values, known, sure = others, otherKnown, true
				}
			}
			if !sure {
				continue
			}
			t := form.as(fill(c.exact[p.id], values))
			if known == len(values) {
				return t, true
			}
			if known > bestKnown {
				best, bestKnown, bestLetters = t, known, p.letters
			}
		}
	}
	if parts := sentences(s); len(parts) > 1 {
		out, found := make([]string, len(parts)), 0
		for i, part := range parts {
			t, ok := c.text(part, depth+1)
			out[i] = t
			if ok {
				found++
			}
		}
		if found == len(parts) || found > 0 && best == "" {
			return strings.Join(out, " "), true
		}
	}
	if bestLetters >= plentyLetters {
		return best, true
	}
	if t, whole := c.strung(s, depth); whole || t != s && best == "" {
		return t, true
	}
	if best != "" {
		return best, true
	}
	if depth > 2 {
		return s, false
	}
	for i, r := range s {
		if r != ' ' {
			continue
		}
		if right, ok := c.text(s[i+1:], deepest-2); ok {
			if left, ok := c.text(s[:i], deepest-2); ok || counted.MatchString(left) {
				return left + " " + right, true
			}
		}
	}
	return s, false
}

// strung translates sentences that are strung together of parts which are messages by themselves, as in: card 1, row 2.
// whole says that every part is known.
func (c *Catalogue) strung(s string, depth int) (t string, whole bool) {
	t = s
	for _, m := range slices.Backward(between.FindAllStringIndex(s, -1)) {
		sign := s[m[0]:m[1]]
		left, ok := c.text(s[:m[0]], depth+1)
		if !ok {
			switch end, found := c.text(s[:m[0]+1], depth+1); {
			case found: // the message ends with the sign
				left, sign = end, sign[1:]
			case numbers.MatchString(s[:m[0]]) && strings.ContainsFunc(sign, unicode.IsLetter): // 21 or 27
				left = s[:m[0]]
			default:
				continue
			}
		}
		if word := strings.Trim(sign, " ,"); c.exact[word] != "" {
			sign = strings.Replace(sign, word, c.exact[word], 1)
		}
		if right, ok := c.text(strings.TrimSpace(s[m[0]:]), depth+1); ok && sign != "" { // the message begins with the sign
			return left + sign[:len(sign)-len(strings.TrimLeft(sign, " "))] + right, true
		}
		right, ok := c.text(s[m[1]:], depth+1)
		if ok = ok || short.MatchString(s[m[1]:]); ok {
			return left + sign + right, true
		}
		if t == s && !strings.ContainsFunc(sign, unicode.IsLetter) {
			t = left + sign + right
		}
	}
	if m := between.FindStringIndex(s); m != nil && t == s {
		if right, ok := c.text(s[m[1]:], depth+1); ok && !strings.ContainsFunc(s[m[0]:m[1]], unicode.IsLetter) {
			return s[:m[1]] + right, short.MatchString(s[:m[0]])
		}
	}
	return t, false
}

// values translates what was put into a message. known counts those that are a message or short; in the score, a
// message counts for more. sure says whether it was that message.
func (c *Catalogue) values(p pattern, found []string, depth int) (values []string, known, score int, sure bool) {
	sure = true
	for _, v := range found {
		t, ok := c.text(v, depth+1)
		switch {
		case ok:
			known, score = known+1, score+2
		case short.MatchString(v):
			known, score = known+1, score+1
		case p.letters < p.enough():
			sure = false
		}
		values = append(values, t)
	}
	return values, known, score, sure
}

// between stands between parts of a sentence.
var between = regexp.MustCompile(`, and |, |; |: | · | \(| and | or `)

// A message that says little of its own, such as "row {0}", is recognised by numbers and names without blanks only: people
// write words, too, and what they wrote stays as it is.
func (p pattern) enough() int {
	if strings.HasPrefix(p.id, "{") {
		return 8
	}
	return 6
}

// numbers are one or several with a comma between, such as 6, 12a.
var numbers = regexp.MustCompile(`^[\d?]+\pL?(, [\d?]+\pL?)*$`)

// counted are a racer, such as Girls 14, and a code.
var counted = regexp.MustCompile(`^(\pL+ \d+|[A-Z])$`)

// short are values such as 12, B1, Blue, "14", or 1, 2 and 3.
var short = regexp.MustCompile(`^([^\s\p{Ll}]\S*|[\d, and]+|\pL+ \d+)$`)

// fill puts values into a message.
func fill(message string, values []string) string {
	return placeholder.ReplaceAllStringFunc(message, func(p string) string {
		var i int
		if _, err := fmt.Sscanf(p, "{%d}", &i); err != nil || i >= len(values) {
			return p
		}
		return values[i]
	})
}

// sentenceForm is a text as a message may have it, and how to make the sentence of it again.
type sentenceForm struct {
	of string
	as func(string) string
}

// sentenceForms undoes what makes a sentence of a message: a capital, and a full stop.
func sentenceForms(s string) []sentenceForm {
	same := func(t string) string { return t }
	all := []sentenceForm{{s, same}}
	first, size := utf8.DecodeRuneInString(s)
	lower := string(unicode.ToLower(first)) + s[size:]
	if lower != s {
		all = append(all, sentenceForm{lower, capital})
	}
	if bare := strings.TrimSuffix(s, "."); bare != s {
		stop := func(t string) string { return t + "." }
		all = append(all, sentenceForm{bare, stop}, sentenceForm{strings.TrimSuffix(lower, "."), func(t string) string { return capital(t) + "." }})
	}
	return all
}

func capital(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

var sentenceEnd = regexp.MustCompile(`[.?!] `)

// sentences cuts a text after each sentence.
func sentences(s string) []string {
	var all []string
	at := 0
	for _, m := range sentenceEnd.FindAllStringIndex(s, -1) {
		if next, _ := utf8.DecodeRuneInString(s[m[1]:]); !unicode.IsUpper(next) && next != '(' {
			continue // no. 3
		}
		all = append(all, s[at:m[1]-1])
		at = m[1]
	}
	return append(all, s[at:])
}
