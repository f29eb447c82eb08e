// Package stack lays all cards of a race side by side, as they stand now.
//
//	Race + store --Load--> Stack{Cards, Rows, Questions} --Facts--> rules.Check
//	                         |                                          |
//	                         '------------ Waiting(result) <------------'
//
// It knows which of two photos of a side counts, or asks; which card a spare became; that a row which was
// entered stays although no ink shows; and, through package look, how many looks each field has. It does
// not know what rows mean together; that is rules.
// A Stack is a picture of one moment; it is never changed and needs no closing. Its texts are secret
// from whoever may still type them: pages show only what a person may see.
package stack
