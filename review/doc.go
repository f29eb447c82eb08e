// Package review is the desk: a page on this laptop where a person sees the stack, types what only a
// person can settle, and takes the draft to the referee.
//
//	store --stack.Load--> Stack --rules.Check--> what waits
//	                        |
//	                        +--draw the veil--> a stack without the texts that may still be typed unseen
//	                                              |
//	                                              +--rules.Check--> pages, crops, downloads --> browser
//
// The veil comes before the rules, not after: a page is made from what is left when the secret texts
// are gone, so nothing on it can follow from them. What is about to be sent is logged in the store
// before it is sent.
//
// It knows no image processing and no network beyond HTTP; pages work without scripts. The caller
// closes the store and the listener.
package review
