// Package ctc turns what a net says place by place along a line of writing into texts with probabilities.
//
//	log-odds, places x symbols --New--> Line --Log----> exact probability of one text
//	                                      '---Best----> the likeliest texts, any or those of a Grammar
//
// A text's probability is the sum over all ways to spread its symbols over the places: connectionist temporal
// classification. All texts together have 1, so what is left beside the texts of a grammar is the mass of "none
// of these": a grammar leaves texts out, it never makes the others likelier.
//
// Symbols are numbers; 0 is "nothing new here" and never part of a text. It knows no images and no fields, and is
// pure Go. A Line is safe for concurrent use, once made.
//
// Source: Graves, Fernández, Gomez, Schmidhuber 2006, Connectionist Temporal Classification (the forward sum);
// Hannun, Maas, Jurafsky, Ng 2014, First-Pass Large Vocabulary Continuous Speech Recognition (the prefix search).
package ctc
