package sparse

// tile is a dense matrix inside a longer slice, row by row.
type tile struct {
	data   []float64
	stride int
}

func (t tile) row(i, from, to int) []float64 {
	return t.data[i*t.stride+from : i*t.stride+to : i*t.stride+to]
}

// lessProduct subtracts x y' from c, where x has m rows, y has n rows and both
// have k columns. With lower set, only the places of c on and below its
// diagonal are sure to be touched, and those above may hold anything after.
func lessProduct(c, x, y tile, m, n, k int, lower bool) {
	const high, wide = 4, 2
	i := 0
	for ; i+high <= m; i += high {
		x0, x1, x2, x3 := x.row(i, 0, k), x.row(i+1, 0, k), x.row(i+2, 0, k), x.row(i+3, 0, k)
		last := n
		if lower {
			last = min(n, i+high)
		}
		j := 0
		for ; j+wide <= last; j += wide {
			d := dot42(x0, x1, x2, x3, y.row(j, 0, k), y.row(j+1, 0, k))
			for r := range high {
				out := c.row(i+r, j, j+wide)
				out[0] -= d[2*r]
				out[1] -= d[2*r+1]
			}
		}
		for ; j < last; j++ {
			yj := y.row(j, 0, k)
			for r, xr := range [high][]float64{x0, x1, x2, x3} {
				c.data[(i+r)*c.stride+j] -= dot(xr, yj)
			}
		}
	}
	for ; i < m; i++ {
		xi := x.row(i, 0, k)
		last := n
		if lower {
			last = min(n, i+1)
		}
		for j := range last {
			c.data[i*c.stride+j] -= dot(xi, y.row(j, 0, k))
		}
	}
}

// dot42 is the 4 by 2 products of four rows with two. Eight sums and six loads
// fill the registers without spilling.
func dot42(x0, x1, x2, x3, y0, y1 []float64) (d [8]float64) {
	n := len(y0)
	x0, x1, x2, x3, y1 = x0[:n], x1[:n], x2[:n], x3[:n], y1[:n]
	var a0, a1, b0, b1, c0, c1, d0, d1 float64
	for k, u := range y0 {
		v := y1[k]
		p := x0[k]
		a0 += p * u
		a1 += p * v
		p = x1[k]
		b0 += p * u
		b1 += p * v
		p = x2[k]
		c0 += p * u
		c1 += p * v
		p = x3[k]
		d0 += p * u
		d1 += p * v
	}
	return [8]float64{a0, a1, b0, b1, c0, c1, d0, d1}
}

func dot(x, y []float64) float64 {
	x = x[:len(y)]
	var a, b float64
	k := 0
	for ; k+2 <= len(y); k += 2 {
		a += x[k] * y[k]
		b += x[k+1] * y[k+1]
	}
	if k < len(y) {
		a += x[k] * y[k]
	}
	return a + b
}
