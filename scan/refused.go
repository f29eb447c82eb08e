package scan

import "fmt"

// Fault is the fixed word of a refusal.
type Fault string

// Why a photo or a card in it is refused.
const (
	FaultNoMarks  Fault = "no-marks"    // none of our cards, or too little of one
	FaultFewMarks Fault = "few-marks"   // some marks, too few to trust
	FaultNoForm   Fault = "no-form"     // none of the forms without marks, or too little of one
	FaultForms    Fault = "two-forms"   // two of the forms without marks fit about as well
	FaultSmall    Fault = "too-small"   // too few pixels per mm
	FaultBlurred  Fault = "too-blurred" // print not sharp enough
	FaultOutside  Fault = "outside"     // a row or panel lies outside the picture
	FaultCovered  Fault = "covered"     // a row or panel is covered
	FaultPrint    Fault = "print"       // marks of ours, but the print between them is another
	FaultIdentity Fault = "identity"    // the two printed identities differ, or name the other side
)

// RefusedError says why a card can't be trusted to be straight. Remedy is for the person holding it.
type RefusedError struct {
	Fault  Fault
	Detail string
	Remedy string

	otherSheet bool // its bibs in print are others: the sheet lies there, and a further form may be its
}

// Error returns detail and remedy in one sentence.
func (e *RefusedError) Error() string { return e.Detail + "; " + e.Remedy }

func refused(fault Fault, remedy, detail string, args ...any) *RefusedError {
	return &RefusedError{Fault: fault, Detail: fmt.Sprintf(detail, args...), Remedy: remedy}
}

// UnknownLayoutError names a layout that a card was printed with and that nobody passed in.
type UnknownLayoutError struct {
	Layout string // first 6 hex digits of its content hash
	Card   int    // card number as printed
}

// Error says which layout is missing and how to give it.
func (e *UnknownLayoutError) Error() string {
	return fmt.Sprintf("card %d was printed with layout %s, which is not here; add the race folder or the layout file it was printed from", e.Card, e.Layout)
}
