package tui

import (
	"math/bits"
	"os"
	"slices"
	"strings"
	"testing"
)

func TestNoTwoActionsShareAKeyWhereBothAreLive(t *testing.T) {
	for i := range actions {
		for j := range actions[:i] {
			a, b := &actions[i], &actions[j]
			if a.scope&b.scope == 0 {
				continue
			}
			for _, k := range a.keys {
				for _, l := range b.keys {
					if k == l {
						t.Errorf("%s and %s both have %q in %s", a.id, b.id, k, where(a.scope&b.scope))
					}
				}
			}
		}
	}
}

func TestEveryActionIsWhole(t *testing.T) {
	seen := map[string]bool{}
	for i := range actions {
		a := &actions[i]
		if a.id == "" || a.help == "" || a.do == nil || a.scope == 0 || seen[a.id] {
			t.Errorf("action %d (%s) lacks something or stands twice", i, a.id)
		}
		if a.foot > 0 && a.short == "" {
			t.Errorf("%s stands in the footer without words", a.id)
		}
		if len(a.keys) == 0 && a.silent {
			t.Errorf("%s can't be reached", a.id)
		}
		seen[a.id] = true
	}
}

func TestEveryScopeHasEscAndAName(t *testing.T) {
	for s := onDesk; s <= inAsk; s <<= 1 {
		if where(s) == "" {
			t.Errorf("scope %d has no name", bits.TrailingZeros32(uint32(s)))
		}
		found := false
		for i := range actions {
			for _, k := range actions[i].keys {
				found = found || k == "esc" && actions[i].scope&s != 0
			}
		}
		if !found {
			t.Errorf("esc does nothing in %s", where(s))
		}
	}
}

// Where a field takes what is typed, a letter can't be a key.
func TestNoLetterIsAKeyWhereOneTypes(t *testing.T) {
	for i := range actions {
		for _, k := range actions[i].keys {
			if actions[i].scope&inType != 0 && len(k) == 1 {
				t.Errorf("%s has %q where one types", actions[i].id, k)
			}
		}
	}
}

// A cut mouse report looks like these keys: nothing may hang on them.
func TestNoActionHangsOnAPieceOfAMouseReport(t *testing.T) {
	for i := range actions {
		for _, k := range actions[i].keys {
			if slices.Contains(strings.Fields("M m ; < ["), k) {
				t.Errorf("%s has %q", actions[i].id, k)
			}
		}
	}
}

func TestTheReadmesTableOfKeysIsThisOne(t *testing.T) {
	const begin, end = "<!-- keys: begin -->\n", "<!-- keys: end -->"
	b, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(b), begin)
	if !ok {
		t.Fatal("the README has no table of keys after " + begin)
	}
	if got, _, _ := strings.Cut(rest, end); strings.TrimSpace(got) != strings.TrimSpace(keyTable()) {
		t.Errorf("the README's table of keys is old; it should be:\n%s", keyTable())
	}
}

func TestTheTableOfKeysHasEveryKey(t *testing.T) {
	table := keyTable()
	for i := range actions {
		if len(actions[i].keys) > 0 && !strings.Contains(table, actions[i].help) {
			t.Errorf("%s is missing", actions[i].id)
		}
	}
}
