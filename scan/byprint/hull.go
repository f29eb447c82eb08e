package byprint

import (
	"math"
	"sort"
)

// convexHull returns the outline of points, in one sense of turning.
//
// Source: Andrew's monotone chain, Inf. Process. Lett. 9 (1979).
func convexHull(points [][2]float64) [][2]float64 {
	sort.Slice(points, func(i, j int) bool {
		return points[i][0] < points[j][0] || points[i][0] == points[j][0] && points[i][1] < points[j][1]
	})
	var hull [][2]float64
	for pass := range 2 {
		base := len(hull)
		for k := range points {
			p := points[k]
			if pass == 1 {
				p = points[len(points)-1-k]
			}
			for len(hull) >= base+2 && cross(hull[len(hull)-2], hull[len(hull)-1], p) <= 0 {
				hull = hull[:len(hull)-1]
			}
			hull = append(hull, p)
		}
		hull = hull[:len(hull)-1]
	}
	return hull
}

// areaOf returns the area of a polygon.
func areaOf(polygon [][2]float64) float64 {
	area := 0.0
	for i, p := range polygon {
		q := polygon[(i+1)%len(polygon)]
		area += (p[0]*q[1] - q[0]*p[1]) / 2
	}
	return math.Abs(area)
}

func cross(a, b, c [2]float64) float64 {
	return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0])
}
