// Package scan turns a photo of a card into a straight Page, or says why it can't.
//
//	file --Decode--> grey photo --Find--> Found: marks, side, identity --Straighten--> Page
//	                                                                      |
//	   RefusedError: fault, detail, what to do   <------------------------'
//
//	paper mm --displacement, from the card's own print--> flat mm --homography, from marks--> photo px
//
// Where marks fail, and for forms that have none (PrepareBlank), the flat map comes from the form's own print
// (scan/byprint), with more to be shown before it is believed.
//
// Most users want Pages, which does all of it for one photo. The card's blank forms are prepared
// once with Prepare or PrepareBlank and shared by any number of goroutines.
//
// scan knows where print lies on a card and nothing of what people write there. It never guesses:
// a card that can't be trusted to be straight is refused, a layout it doesn't know is named.
// A Mat is closed by who made it: Decode's by the caller, a Page's by Page.Close.
// How well it does: scan/report.md.
package scan
