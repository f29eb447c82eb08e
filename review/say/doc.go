// Package say puts the pages into another language.
//
//	*.tmpl --Templates--.                                    .--> templates in that language
//	Go texts ------------+--> gatefold.pot ~~> a PO file --Parse--> Catalogue --Text, Plural--> finished sentences
//	*.js ---------------'    (go generate)                   '--> texts for scripts, handed over by the page
//
// The English text is the key, as in gettext. Templates stay as they are written: they are translated when they are
// loaded, by walking what they were parsed into. A message is what stands in one block of HTML; what is filled in is
// {0}, {1} in their order, inline tags are <1>...</1>, so that a translator can move them.
//
// It knows no page and no race. What was read from cards is data: it is never looked up, but where it is a whole
// message by itself within a sentence.
package say

//go:generate go run ./makepot
