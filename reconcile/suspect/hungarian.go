package suspect

import "math"

// assignRows gives each row of a cost matrix a column of its own at the least total cost:
// the Hungarian method with potentials (Kuhn 1955, Munkres 1957), O(rows² · columns). There
// must be at least as many columns as rows. Ties go to the lower column.
func assignRows(cost [][]float64) []int {
	n := len(cost)
	if n == 0 {
		return nil
	}
	m := len(cost[0])
	u, v := make([]float64, n+1), make([]float64, m+1)
	rowOf, way := make([]int, m+1), make([]int, m+1) // row 0 and column 0: nobody
	for i := 1; i <= n; i++ {
		rowOf[0] = i
		least := make([]float64, m+1)
		used := make([]bool, m+1)
		for j := range least {
			least[j] = math.Inf(1)
		}
		j0 := 0
		for rowOf[j0] != 0 {
			used[j0] = true
			i0, next, delta := rowOf[j0], 0, math.Inf(1)
			for j := 1; j <= m; j++ {
				if used[j] {
					continue
				}
				if c := cost[i0-1][j-1] - u[i0] - v[j]; c < least[j] {
					least[j], way[j] = c, j0
				}
				if least[j] < delta {
					delta, next = least[j], j
				}
			}
			for j := 0; j <= m; j++ {
				if used[j] {
					u[rowOf[j]] += delta
					v[j] -= delta
				} else {
					least[j] -= delta
				}
			}
			j0 = next
		}
		for j0 != 0 {
			rowOf[j0] = rowOf[way[j0]]
			j0 = way[j0]
		}
	}
	out := make([]int, n)
	for j := 1; j <= m; j++ {
		if rowOf[j] > 0 {
			out[rowOf[j]-1] = j - 1
		}
	}
	return out
}
