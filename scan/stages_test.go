package scan

import (
	"slices"
	"time"

	"gocv.io/x/gocv"
)

// Stage is one part of the way from file to page, and what it took.
type Stage struct {
	Name string
	Took time.Duration
}

// Stages goes the way of Decode and Pages for a file that shows one card whose marks are found, part by part. clock
// is read between them.
func Stages(name string, file []byte, forms *Forms, clock func() time.Duration) (stages []Stage, err error) {
	last := clock()
	done := func(name string) {
		now := clock()
		stages = append(stages, Stage{name, now - last})
		last = now
	}
	photo, _, err := Decode(name, file)
	if err != nil {
		return nil, err
	}
	defer photo.Close()
	done("decode")
	pyr, err := newPyramid(photo, levelForMarks/2)
	if err != nil {
		return nil, err
	}
	defer pyr.close()
	done("pyramid")
	found, _, err := find(pyr, forms)
	if err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return nil, refused(FaultNoMarks, "", "none found")
	}
	f := found[0]
	done("find")
	q := Quality{PxPerMM: f.PxPerMM}
	q.SigmaMM, q.Contrast = sharpness(pyr.at(9, f.PxPerMM), f.face, f.group.marks, f.PxPerMM)
	done("sharpness")
	paper, places, err := f.follow(pyr)
	if err != nil {
		return nil, err
	}
	q.ResidualMM, q.Residual95, q.PrintSeen = witnessed(places, &paper, photo.Cols(), photo.Rows())
	done("follow")
	if paper, err = fitAll(f.face, places, paper); err != nil {
		return nil, err
	}
	done("last-fit")
	q.Outside = fieldsOutside(f.face.side, &paper, photo.Cols(), photo.Rows())
	q.judgeFields(f.face.side, places, &paper, pyr.at(levelForPrint, f.PxPerMM))
	done("judge")
	page, err := warp(photo, &paper, f.face.side, Options{}.pxPerMM(), meanPxPerMM(&paper, f.face.side))
	if err != nil {
		return nil, err
	}
	defer page.Close()
	done("warp")
	q.Blown, err = blown(page)
	done("blown")
	return stages, err
}

// ColourDecode is what all is measured against: OpenCV alone, the same file.
func ColourDecode(file []byte) error {
	m, err := gocv.IMDecode(file, gocv.IMReadColor)
	if err != nil {
		return err
	}
	return m.Close()
}

// median returns the middle one of some durations, and sorts them.
func median(ds []time.Duration) time.Duration {
	slices.Sort(ds)
	return ds[len(ds)/2]
}

// Medians returns the median of each stage over several runs, in the order of the first.
func Medians(runs [][]Stage) (out []Stage) {
	for i, s := range runs[0] {
		var took []time.Duration
		for _, r := range runs {
			took = append(took, r[i].Took)
		}
		out = append(out, Stage{s.Name, median(took)})
	}
	return out
}
