// Package look says how many looks a bib has, which they are, and what could give it another.
//
//	Ink (reading, ties, alone) + decisions that stand --Count--> Seen{State, Text, Looks, Next}
//
// A call that proposes a disqualification needs two looks that agree. This is the whole table; the
// first line that fits counts. "Judge" is the newest thing the judge said: read aloud and typed blind,
// or asked and named unprompted. "With" are people who typed the machine's text blind and never said
// otherwise; "against" are people who ever typed another, blind or not.
//
//	newest decision is set aside                       set-aside
//	judge, and ink or an entry that shows it too       two       what the judge said
//	judge of a bib of which no reader makes anything,
//	and nobody typed another (4)                       one       second-person
//	judge, and neither shows it                        waiting   second-person
//	nobody typed a text, and one person (specks) or
//	two (ink that may be none) see no writing (3)      set-aside "no writing"
//	nobody typed a text, one sees no writing           waiting   second-person
//	ink only the judge can explain (1)                 waiting   judge
//	judge only nodded, at another bib or at two        waiting   judge
//	two people against the machine                     waiting   judge
//	one against one writing with a plausible rival     waiting   judge
//	one against it, none with it                       waiting   second-person
//	two writings, tied and jointly clear               two       (entries with it are shown too)
//	one with it, no plausible rival (2)                two       also when the ink was doubtful
//	clear, plausible rival                             one       judge
//	clear                                              one       blind-entry
//	doubtful, plausible rival, or no text              waiting   judge
//	doubtful                                           waiting   blind-entry
//
//	no picture: two that agree, people or judge        two
//	no picture: judge against all that was typed       waiting   second-person
//	no picture: one entry                              one       second-person
//	no picture: anything that differs                  waiting   judge
//	no picture: nothing typed                          waiting   blind-entry
//
// Whatever the table gives: a field that stood on two looks, one of them a person's, waits again when somebody reads
// it otherwise after that (second-person): the judge's newer word settles it, or the newer entry of a further person.
// That it was set aside in between changes nothing of that.
//
// Beside the judge's word, an entry by whoever typed that word, by the judge whose card it is, or by somebody who took
// over from that judge, is no second look: it may be the same person once more.
//
// (1) Struck out, a question mark beside it, partly hidden, or another bib where the paper ties a
// second writing to it: a person sees the same ink, so agreement proves nothing. (2) The reader's
// own statement, with a threshold of its own; where it says nothing, as of codes and gates in free cells, it counts as if there
// were a rival, and the reason is the same for all: who may still type it would learn what was read.
//
// (3) Typed blind like any text, and a text of its own that no ink is read as. Specks are faint ink of
// which the reader makes nothing; a clear reading and a second writing are never "no writing".
//
// (4) As without a picture. The row doesn't stand by that, but what it says holds other rows back, such as those of a racer who left
// the course: a look that it loses, as somebody is forgotten, must not let a line stand that waited for it.
//
// An entry that isn't blind, and a text the judge only nodded to, never is a look, but speaks against
// every other text. Nothing here makes a reading clearer than it is: outside evidence has no way in.
// The same table serves code, gate and panel. It is pure; it knows no store, page or rule.
package look
