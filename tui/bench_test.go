package tui

import (
	"slices"
	"testing"
)

const many = 60000

func BenchmarkFrame(b *testing.B) {
	d := newDriver(b, 200, 50, many, nil)
	for _, f := range frames {
		b.Run(f.name, func(b *testing.B) {
			d.keys("esc esc esc " + f.keys)
			for b.Loop() {
				d.m.redraw()
			}
		})
	}
}

func BenchmarkKey(b *testing.B) {
	d := newDriver(b, 200, 50, many, nil)
	d.keys("3")
	down := press("down")
	for b.Loop() {
		d.m.Update(down)
	}
}

func BenchmarkSort(b *testing.B) {
	d := newDriver(b, 200, 50, many, nil)
	a := d.m.screens[screenAthletes].(*athletes)
	for i := range orders {
		b.Run(orders[i].name, func(b *testing.B) {
			a.by = i
			for b.Loop() {
				a.in = order{}
				a.sort()
			}
		})
	}
}

func BenchmarkSearch(b *testing.B) {
	d := newDriver(b, 200, 50, many, nil)
	a := d.m.screens[screenAthletes].(*athletes)
	for _, q := range []string{"a", "214", "fair", "gsf", "dagnyquay", "AB0100"} {
		b.Run(q, func(b *testing.B) {
			for b.Loop() {
				a.find(q)
			}
		})
	}
}

func BenchmarkIndex(b *testing.B) {
	d := newDriver(b, 200, 50, many, nil)
	for b.Loop() {
		newIndex(d.m.live.State, nil, nil, nil, nil)
	}
}

func BenchmarkBook(b *testing.B) {
	s := fixture(many)
	b.Run("first", func(b *testing.B) {
		for b.Loop() {
			newBook(Update{State: s}, nil)
		}
	})
	b.Run("next", func(b *testing.B) { // of whom one has passed elsewhere
		book, n := newBook(Update{State: s}, nil), 0
		for b.Loop() {
			next := *book.State
			next.Results = slices.Clone(next.Results)
			n = (n + 7919) % many
			next.Results[n] = copied(next.Results[n : n+1])[0]
			next.Results[n].Passings = append(next.Results[n].Passings, fixturePassing(s.Plan, 2, -1, s.Now, n))
			book = newBook(Update{State: &next}, book)
		}
	})
}

// BenchmarkTake is what a new snapshot costs the program's loop.
func BenchmarkTake(b *testing.B) {
	d := newDriver(b, 200, 50, many, nil)
	d.keys("3")
	first := newBook(Update{State: d.desk.State()}, nil)
	books := [2]*book{first, newBook(Update{State: d.desk.State()}, first)}
	var i int
	for b.Loop() {
		i++
		d.m.Update(bookMsg{books[i%2]})
	}
}

func BenchmarkEffect(b *testing.B) {
	s := fixture(many)
	for b.Loop() {
		compare(s, s, nil)
	}
}
