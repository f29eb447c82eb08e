package ocr

import (
	"fmt"
	"math"

	"gatefold/ocr/joint"
	"gatefold/sheetmodel"
)

// When the net that reads whole lines is heard on a comb, and how much it weighs. Chosen on 14,117 bibs and 3,739
// gates of calibration writers without any other doubt: at 3 % asked of them it leaves 31 bibs wrong for 44, and 14 gates for
// 22. Above voiceBelow, three combs in four of ordinary photos, it changed nothing that was worth its 7 ms.
const (
	voiceBelow  = 2.3  // score of the digit nets' belief
	voiceWeight = 0.5  // power of its claims; the digit nets' have 1
	voiceLeast  = 1e-4 // a claim counts as no less: one voice alone rules nothing out
)

// hear lets the net that reads a field as a whole speak on a comb of which the digit nets are not sure. It sees
// what boxes cut apart. Claims are pooled as a product of powers: it raises what it reads too and lowers what it
// does not. heard is its own likeliest text; ok is false if it was not asked.
func (r *Reader) hear(pg *page, f sheetmodel.Field, nets joint.Belief) (pooled joint.Belief, heard string, ok bool, err error) {
	if r.mute || joint.ScoreOf(nets) >= voiceBelow {
		return nets, "", false, nil
	}
	line, err := r.cells.Line(pg.pix, pg.w, pg.pxPerMM, f.Rect)
	if err != nil {
		return nets, "", false, fmt.Errorf("field %s: %w", f.Name, err)
	}
	// In a comb a dash is no range: its boxes hold one number.
	voice, _, _, _ := CellBelief(line, sheetmodel.GrammarBib)
	heard, _ = voice.Top()
	return capped(pool(nets, voice), voiceBelow), heard, true, nil
}

// capped leaves a belief no surer than score: what was lifted by the voice never ranks above what the digit nets are
// sure of by themselves, for all three learnt from the same hands.
func capped(b joint.Belief, score float64) joint.Belief {
	top, _ := b.Top()
	if top == "" || joint.ScoreOf(b) <= score {
		return b
	}
	want := sheetmodel.Prob(1 / (1 + math.Pow(10, -score)))
	shrink := (1 - want) / b.Rest()
	out := make([]sheetmodel.Rival, len(b.Texts))
	for i, v := range b.Texts {
		out[i] = sheetmodel.Rival{Text: v.Text, Prob: v.Prob * shrink}
		if v.Text == top {
			out[i].Prob = want
		}
	}
	return joint.NewBelief(out, b.Other*shrink)
}

// pool weighs the claims of nets with those of voice, that of "none of these" too.
//
// Source: logarithmic opinion pool, Genest and Zidek 1986.
func pool(nets, voice joint.Belief) joint.Belief {
	weight := func(p sheetmodel.Prob) sheetmodel.Prob {
		return sheetmodel.Prob(math.Pow(math.Max(float64(p), voiceLeast), voiceWeight))
	}
	out := make([]sheetmodel.Rival, len(nets.Texts))
	for i, v := range nets.Texts {
		out[i] = sheetmodel.Rival{Text: v.Text, Prob: v.Prob * weight(voice.Prob(v.Text))}
	}
	return joint.NewBelief(out, nets.Other*weight(voice.Other))
}
