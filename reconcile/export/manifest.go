package export

import (
	"encoding/json"
	"io"

	"twinmat/reconcile/race"
)

// Input is one file that a race's state rests on.
type Input struct {
	Path   string `json:"path"`
	Size   int64  `json:"size"`
	SHA256 string `json:"sha256"`
}

type manifest struct {
	Version   string         `json:"version"`
	Race      string         `json:"race"`
	Inputs    []Input        `json:"inputs"`
	Rulings   int            `json:"rulings"`
	States    map[string]int `json:"states"`
	OpenHolds int            `json:"open_holds"` // open suspects of weight hold, also those that hold no row
	Lines     int            `json:"lines"`
	Reads     int            `json:"reads"`
	Repeated  int            `json:"repeated"`
	Bad       int            `json:"bad"`
}

// Manifest writes manifest.json: on what an export rests, and how it stands.
func Manifest(w io.Writer, st *race.State, version string, inputs []Input) error {
	m := manifest{Version: version, Race: st.Plan.Name, Inputs: inputs, Rulings: len(st.Rulings), States: States(st),
		OpenHolds: OpenHolds(st), Lines: st.Sums.Lines, Reads: st.Sums.Kept, Repeated: st.Sums.Repeated, Bad: st.Sums.Bad}
	if m.Inputs == nil {
		m.Inputs = []Input{}
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(m)
}

// States counts the results by state; every state is named.
func States(st *race.State) map[string]int {
	n := map[string]int{}
	for _, s := range race.States {
		n[s] = 0
	}
	for i := range st.Results {
		n[st.Results[i].State]++
	}
	return n
}

// OpenHolds counts the open suspects of weight hold.
func OpenHolds(st *race.State) int {
	n := 0
	for i := range st.Suspects {
		if s := &st.Suspects[i]; !s.Settled && s.Weight == race.Hold {
			n++
		}
	}
	return n
}
