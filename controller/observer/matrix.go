package observer

import "math"

// Matrix is a small dense matrix of fixed size: no allocation, a plain value.
type Matrix [states][states]float64

func identity() (m Matrix) {
	for i := range m {
		m[i][i] = 1
	}
	return m
}

func (m *Matrix) times(n *Matrix) (out Matrix) {
	for i := range m {
		for k := range m {
			if m[i][k] == 0 {
				continue
			}
			for j := range m {
				out[i][j] += m[i][k] * n[k][j]
			}
		}
	}
	return out
}

func (m *Matrix) plus(n *Matrix) (out Matrix) {
	for i := range m {
		for j := range m {
			out[i][j] = m[i][j] + n[i][j]
		}
	}
	return out
}

func (m *Matrix) scaled(f float64) (out Matrix) {
	for i := range m {
		for j := range m {
			out[i][j] = m[i][j] * f
		}
	}
	return out
}

func (m *Matrix) transposed() (out Matrix) {
	for i := range m {
		for j := range m {
			out[i][j] = m[j][i]
		}
	}
	return out
}

func (m *Matrix) apply(x *Vector) (out Vector) {
	for i := range m {
		for j := range m {
			out[i] += m[i][j] * x[j]
		}
	}
	return out
}

// norm is the largest sum of magnitudes in a row.
func (m *Matrix) norm() float64 {
	worst := 0.0
	for i := range m {
		sum := 0.0
		for j := range m {
			sum += math.Abs(m[i][j])
		}
		worst = max(worst, sum)
	}
	return worst
}

// inverse is by Gauss and Jordan with row exchange. ok is false when the
// matrix is singular to working precision.
func (m Matrix) inverse() (out Matrix, ok bool) {
	out = identity()
	for c := range m {
		pivot := c
		for r := c + 1; r < states; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[pivot][c]) {
				pivot = r
			}
		}
		if m[pivot][c] == 0 || math.IsNaN(m[pivot][c]) {
			return Matrix{}, false
		}
		m[c], m[pivot] = m[pivot], m[c]
		out[c], out[pivot] = out[pivot], out[c]
		f := 1 / m[c][c]
		for j := range m {
			m[c][j] *= f
			out[c][j] *= f
		}
		for r := range m {
			if f := m[r][c]; r != c && f != 0 {
				for j := range m {
					m[r][j] -= f * m[c][j]
					out[r][j] -= f * out[c][j]
				}
			}
		}
	}
	return out, true
}

// exponential is exp(m) by scaling and squaring of a Taylor series: m is
// halved until its norm is below 1/2, where 14 terms leave less than 1e-16.
func (m *Matrix) exponential() Matrix {
	halvings := 0
	for n := m.norm(); n > 0.5 && halvings < 60; n /= 2 {
		halvings++
	}
	small := m.scaled(math.Ldexp(1, -halvings))
	sum, term := identity(), identity()
	for k := 1; k <= 14; k++ {
		term = term.times(&small)
		term = term.scaled(1 / float64(k))
		sum = sum.plus(&term)
	}
	for range halvings {
		sum = sum.times(&sum)
	}
	return sum
}
