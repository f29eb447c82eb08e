package look

import "gatefold/sheetmodel"

// Words says in plain words what a look was, as page, draft and packet print it.
func Words(kind sheetmodel.LookKind) string {
	switch kind {
	case sheetmodel.LookWriting:
		return "written in the row, read by the machine"
	case sheetmodel.LookSecondBox:
		return "written again in the second box, read by the machine"
	case sheetmodel.LookStrip:
		return "written under the drawing, read by the machine"
	case sheetmodel.LookReadBack:
		return "read aloud by the judge, typed unseen"
	case sheetmodel.LookBlind:
		return "typed from the picture, unseen"
	case sheetmodel.LookJudgeAsked:
		return "the judge's word when asked, not on paper"
	case sheetmodel.LookPaper:
		return "typed from the paper, unseen (no picture)"
	}
	return string(kind)
}
