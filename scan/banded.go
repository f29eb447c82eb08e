package scan

// banded is a symmetric positive definite matrix, lower part, row by row: row i holds columns i-width to i.
type banded struct {
	n, width int
	v        []float64
}

func newBanded(n, width int) *banded {
	width = min(width, n-1)
	return &banded{n: n, width: width, v: make([]float64, n*(width+1))}
}

func (b *banded) add(row, col int, v float64) { b.v[row*(b.width+1)+b.width+col-row] += v }

// solve replaces x by the solution of L·Lᵀ·z = x.
func (b *banded) solve(x []float64) {
	b.forward(x, 0)
	w := b.width
	for i := b.n - 1; i >= 0; i-- {
		row := b.v[i*(w+1) : (i+1)*(w+1)]
		x[i] /= row[w]
		for j := max(0, i-w); j < i; j++ {
			x[j] -= row[w+j-i] * x[i]
		}
	}
}

// norm returns xᵀ·(L·Lᵀ)⁻¹·x for an x that is zero before index from; x is spoilt.
func (b *banded) norm(x []float64, from int) float64 {
	b.forward(x, from)
	sum := 0.0
	for _, v := range x[from:] {
		sum += v * v
	}
	return sum
}
