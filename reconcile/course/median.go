package course

// middling is the median of x, which is put out of order: Hoare's selection.
func middling(x []float64) float64 {
	n := len(x)
	if n <= 12 {
		for i := 1; i < n; i++ {
			for j := i; j > 0 && x[j] < x[j-1]; j-- {
				x[j], x[j-1] = x[j-1], x[j]
			}
		}
	} else {
		choose(x, n/2)
	}
	if n%2 == 1 {
		return x[n/2]
	}
	below := x[0]
	for _, v := range x[:n/2] {
		below = max(below, v)
	}
	return (below + x[n/2]) / 2
}

// choose brings the k-th smallest to its place, smaller ones before it.
func choose(x []float64, k int) {
	lo, hi := 0, len(x)-1
	for lo < hi {
		a, b, c := x[lo], x[lo+(hi-lo)/2], x[hi]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for x[j] > pivot {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i, j = i+1, j-1
			}
		}
		if k <= j {
			hi = j
		} else if k >= i {
			lo = i
		} else {
			return
		}
	}
}
