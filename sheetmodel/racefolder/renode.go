package racefolder

import (
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"gatefold/sheetmodel"
)

// The functions here write values of race.yaml anew out of old ones, so that a person's comments and
// spelling outlive a change made on the page.

func textNode(text string) *yaml.Node {
	n := &yaml.Node{}
	n.SetString(text)
	return n
}

func intNode(n int) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!int", Value: strconv.Itoa(n)}
}

// takeComments gives n the comments of old.
func takeComments(n, old *yaml.Node) *yaml.Node {
	if old != nil {
		n.HeadComment, n.LineComment, n.FootComment = old.HeadComment, old.LineComment, old.FootComment
	}
	return n
}

// textValue is a value of one line.
func textValue(text string) func(*yaml.Node) *yaml.Node {
	return func(old *yaml.Node) *yaml.Node { return takeComments(textNode(text), old) }
}

// listValue is an optional list. Entries that stay keep their comments.
func listValue(l sheetmodel.BibList) func(*yaml.Node) *yaml.Node {
	if l.Given != sheetmodel.ListGiven {
		return textValue(string(l.Given))
	}
	return func(old *yaml.Node) *yaml.Node {
		seq := takeComments(&yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Style: yaml.FlowStyle}, old)
		var kept []*yaml.Node
		if old != nil && old.Kind == yaml.SequenceNode {
			seq.Style, kept = old.Style, slices.Clone(old.Content)
		}
		for _, b := range l.Bibs {
			i := slices.IndexFunc(kept, func(n *yaml.Node) bool {
				return n.Kind == yaml.ScalarNode && strings.EqualFold(oneLine(n.Value), spellBib(b))
			})
			switch n, err := strconv.Atoi(b.Number); {
			case i >= 0:
				seq.Content = append(seq.Content, kept[i])
				kept = slices.Delete(kept, i, i+1)
			case err == nil && b.Group == "" && strconv.Itoa(n) == b.Number:
				seq.Content = append(seq.Content, intNode(n))
			default:
				seq.Content = append(seq.Content, textNode(spellBib(b)))
			}
		}
		return seq
	}
}

// placesValue is a placing list, one place a line: {card: 1, name: A, gates: 1-7, judge: ..., phone: ...}.
// A place that is in the file already keeps its line but for what changed.
func placesValue(places []sheetmodel.Place, course []string) func(*yaml.Node) *yaml.Node {
	if len(places) == 0 {
		return textValue("not known")
	}
	return func(old *yaml.Node) *yaml.Node {
		seq := takeComments(&yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq"}, old)
		if old != nil && old.Kind != yaml.SequenceNode {
			seq.FootComment = ""
		}
		byCard := map[int]*yaml.Node{}
		var many []*yaml.Node // entries with several cards
		if old != nil && old.Kind == yaml.SequenceNode {
			for _, n := range old.Content {
				switch cards := cardsOf(n); len(cards) {
				case 0:
				case 1:
					byCard[cards[0]] = n
				default:
					many = append(many, n)
				}
			}
		}
		for i := 0; i < len(places); {
			if n, count := sharedEntry(many, places[i:], course); count > 0 {
				seq.Content = append(seq.Content, n)
				i += count
				continue
			}
			seq.Content = append(seq.Content, placeNode(byCard[places[i].Card], places[i], course))
			i++
		}
		return seq
	}
}

// cardsOf returns the card numbers of an entry of the placing list.
func cardsOf(n *yaml.Node) []int {
	if n.Kind != yaml.MappingNode {
		return nil
	}
	return mappingOf(&problems{}, n, "", placeKeys...).cards()
}

// sharedEntry finds the entry with several cards that stands for the first places as they are.
func sharedEntry(many []*yaml.Node, places []sheetmodel.Place, course []string) (*yaml.Node, int) {
	for _, n := range many {
		cards := cardsOf(n)
		if len(cards) > len(places) {
			continue
		}
		same := true
		for i, c := range cards {
			p := places[i]
			same = same && p.Card == c && len(placeChanges(n, p, course)) == 0 && !renameRelief(n, p.Relief, false)
		}
		if same {
			return n, len(cards)
		}
	}
	return nil, 0
}

// placeNode is the entry of one place: the old one with what changed, or a new one on one line.
func placeNode(old *yaml.Node, p sheetmodel.Place, course []string) *yaml.Node {
	m := old
	if m == nil {
		m = &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Style: yaml.FlowStyle}
		m.Content = append(m.Content, textNode("card"), intNode(p.Card))
	}
	for _, kv := range placeChanges(m, p, course) {
		k, v := findKey(m, kv[0])
		switch {
		case k == nil:
			m.Content = append(m.Content, textNode(kv[0]), textNode(kv[1]))
		case kv[1] == "":
			i := slices.Index(m.Content, k)
			m.Content = slices.Delete(m.Content, i, i+2)
		default:
			*v = *takeComments(textNode(kv[1]), v)
		}
	}
	renameRelief(m, p.Relief, true)
	return m
}

// renameRelief gives those who took over at a place the names and numbers that they have now, if write is set, and reports whether
// any differs. Who took over when stands in the file only.
func renameRelief(n *yaml.Node, relief []sheetmodel.Relief, write bool) (differs bool) {
	_, list := findKey(n, "relief")
	if list == nil || list.Kind != yaml.SequenceNode {
		return false
	}
	for i, m := range list.Content {
		if i >= len(relief) || m.Kind != yaml.MappingNode {
			continue
		}
		for key, text := range map[string]string{"judge": relief[i].Judge, "phone": relief[i].Phone} {
			k, v := findKey(m, key)
			if k == nil || oneLine(v.Value) == oneLine(text) {
				continue
			}
			differs = true
			switch at := slices.Index(m.Content, k); {
			case !write:
			case text == "":
				m.Content = slices.Delete(m.Content, at, at+2)
			default:
				*v = *takeComments(textNode(text), v)
			}
		}
	}
	return differs
}

// placeChanges lists the keys of an entry, with their new texts, that don't say what p says.
func placeChanges(n *yaml.Node, p sheetmodel.Place, course []string) [][2]string {
	m := mappingOf(&problems{}, n, "", placeKeys...)
	var gates []string
	if !notKnown(scalarOf(m, "gates")) {
		if g, err := placeGates(texts(m.items("gates")), course); err == nil {
			gates = g
		} else {
			gates = []string{"?"} // unreadable: written anew
		}
	}
	var changes [][2]string
	add := func(key, text string) { changes = append(changes, [2]string{key, text}) }
	if m.text("name") != p.Name {
		add("name", p.Name)
	}
	if !slices.Equal(gates, p.Gates) || !m.has("gates") {
		add("gates", orDefault(SpellGates(p.Gates, course), string(sheetmodel.ListUnknown)))
	}
	if m.text("judge") != p.Judge {
		add("judge", p.Judge)
	}
	if m.text("phone") != p.Phone {
		add("phone", p.Phone)
	}
	return changes
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }
