// Package mats runs a package's tests and fails them if they leave one of OpenCV's pictures open.
//
//	func TestMain(m *testing.M) { os.Exit(mats.Run(m)) }
//
// Nothing collects a Mat that nobody closes. gocv counts them only with -tags matprofile, as make test
// does; without the tag Run just runs the tests. Native counts what all libraries hold, Mats among it,
// Resident what the C library takes from the system for that.
package mats
