// Package rivals straightens photos of cards by the recipes that a user would find for OpenCV, so that scan can
// be compared with them on the same photos.
//
//	JPEG, side --Ask--> rivals.py (python3-opencv) --> maps mm to px --Judge--> scantest.Outcome
//
// Contour is grey, blur, Canny, the largest outline with four corners, one perspective. The tags are ArUco's and
// AprilTag's, printed in place of our corner marks, all corners through one homography. Settings were chosen for
// them, not against them: README.md says how. It is for the bench alone; no test needs Python.
// A Runner is closed by who opened it.
package rivals
