package ruling

import (
	"strings"
	"testing"

	"twinmat/reconcile/race"
)

// state is a race with bib 1 finished (main at the finish, backup only in a passing of its
// own), bib 88 read though no list has it, and two suspects.
func state(p *race.Plan) *race.State {
	at := func(from, to string) *race.Burst {
		b := &race.Burst{First: hour(from, p)}
		b.SetLast(hour(to, p))
		return b
	}
	none := [race.Systems]race.Instant{race.NoInstant, race.NoInstant, race.NoInstant}
	main, backup := none, none
	main[race.Main], backup[race.Backup] = hour("10:30:00", p), hour("10:40:00", p)
	return &race.State{Plan: p, ByBib: map[string]int{"1": 0, "88": 1},
		Results: []*race.Result{{Athlete: race.Athlete{Bib: "1"}, Splits: p.Courses[0].Splits, Filled: []int{-1, -1, 0}, Finish: 2, GunTime: 5400_000, NetTime: race.NoMillis, Adjust: 60_000,
			Passings: []race.Passing{{Line: 1, At: hour("10:30:00", p), Seen: main, Bursts: [race.Systems]*race.Burst{at("10:30:00", "10:33:00"), nil, nil}, Split: 2},
				{Line: 1, At: hour("10:40:00", p), Seen: backup, Bursts: [race.Systems]*race.Burst{nil, at("10:40:00", "10:40:00"), nil}, Split: -1},
				{Line: 1, At: hour("11:00:00", p), From: race.FromRuling, Ruling: 6, Seen: none, Split: -1},
				{Line: 1, At: hour("10:50:00", p), Seen: none, Bursts: [race.Systems]*race.Burst{at("10:50:00", "10:50:00")}, Fate: race.Voided, Split: -1}}}, {Athlete: race.Athlete{Bib: "88"}, Finish: -1}},
		Suspects: []race.Suspect{{Finding: &race.Finding{ID: "clash:1:finish", Kind: race.Clash, Evidence: "e"}}, {Finding: &race.Finding{ID: "overdue:2"}, Settled: true, SettledBy: 4},
			{Finding: &race.Finding{ID: "clock-step:finish/backup@10:00", Kind: race.ClockStep, Line: "finish"}}}}
}

func TestWhatCanApply(t *testing.T) {
	p := plan(t)
	a, _ := list(p)
	for _, line := range []string{
		"use-system --bib 1 --split finish --system backup", "assign-chip --tag FF --bib 1", "assign-chip --tag FF --bib 1 --from 09:00:00 --to 10:00:00", "ignore-chip --tag FF --tag EE", "void-reads --line start --from 07:00:00 --to 08:00:00",
		"void-reads --line finish --system backup --from 07:00:00 --to 07:00:00", "adjust-time --bib 1 --by -12.5s", "adjust-time --bib 1 --by -1h30m59.999s", "adjust-time --bib 2 --by -9h", "adjust-time --bib 88 --by -9h", "adjust-time --bib 1 --by +2m", "close-course --course half",
		"swap-bibs --bib 1 --with 2", "set-gun --wave A --at 09:00:03", "set-wave --bib 1 --wave B", "witness --bib 1 --line start --at 09:01:00", "witness --bib 88 --line start --at 09:01:00",
		"set-time --bib 1 --split 10k --at 2026-05-17T09:40:00+01:00 --plus-minus 0.5", "set-time --bib 3 --split lap-57 --at 12:00:00", "use-system --bib 1 --split finish --system main",
		"void-passing --bib 1 --line finish --at 10:30:07", "void-passing --bib 1 --line finish --at 10:31:30", "void-passing --bib 1 --line finish --at 10:33:07", "set-status --bib 1 --status dns", "set-status --bib 88 --status dsq", "set-clock --line finish --system backup --offset +3.217",
		"set-clock --line finish --system backup --offset -1h --from 10:00:00", "set-clock --line finish --stepped main --right after", "add-athlete --bib 9 --wave A --birth 1984-03-31",
		"add-athlete --bib 9 --wave A --name 'Bo' --sex f --birth 1984 --category W40 --team 'The Herons'", "accept --suspect clash:1:finish",
	} {
		r := rulings(t, p, line)[0]
		if err := Check(&r, p, a, nil, state(p)); err != nil {
			t.Errorf("%s: %v", line, err)
		}
		if r.Why = " "; Check(&r, p, a, nil, state(p)) == nil || Applies(&r, p, a, nil, state(p)) != nil {
			t.Errorf("%s: taken without a reason, or not tried without one", line)
		}
	}
}

// A wave without a gun has no times that could be right as they stand.
func TestNoGunIsNotAccepted(t *testing.T) {
	p := plan(t)
	a, _ := list(p)
	st := state(p)
	st.Suspects = append(st.Suspects, race.Suspect{Finding: &race.Finding{ID: "doubtful-gun:B", Kind: race.DoubtfulGun}})
	accept := rulings(t, p, "accept --suspect doubtful-gun:B")[0]
	p.Waves[p.WaveIndex("B")].Gun = hour("09:10:00", p)
	if err := Check(&accept, p, a, nil, st); err != nil {
		t.Error(err)
	}
	p.Waves[p.WaveIndex("B")].Gun = race.NoInstant
	if err := Check(&accept, p, a, nil, st); err == nil || !strings.Contains(err.Error(), "wave B has no gun") {
		t.Error(err)
	}
	if err := Check(&accept, p, a, rulings(t, p, "set-gun --wave B --at 09:10:00"), st); err != nil {
		t.Error(err)
	}
}

// Each is refused, and the reason names what was wrong.
func TestWhatIsRefused(t *testing.T) {
	p := plan(t)
	a, _ := list(p)
	earlier := []string{"close-course --course hours", "swap-bibs --bib 2 --with 3", "add-athlete --bib 7 --wave A --name Cy", "set-status --bib 1 --status dnf", "undo --seq 4"}
	for line, says := range map[string]string{
		"assign-chip --tag FF --bib 99":                                         `"99"`,
		"assign-chip --tag ' - ' --bib 1":                                       "no tag",
		"assign-chip --tag FF --bib 1 --from 10:00:00 --to 09:00:00":            "before --from",
		"void-reads --line turn --from 07:00:00 --to 08:00:00":                  `no line "turn"; it has start, finish`,
		"void-reads --line start --system backup --from 07:00:00 --to 08:00:00": "has no backup",
		"void-reads --line finish --system video --from 07:00:00 --to 08:00:00": "no system",
		"adjust-time --bib 1 --by -9h":                                          "bib 1's time is 1:31:00.000 as it stands; adjust-time by -9:00:00.000 leaves -7:29:00.000",
		"adjust-time --bib 1 --by -1h31m":                                       "leaves 0:00:00.000",
		"adjust-time --bib 1 --by 0":                                            "adjusts nothing",
		"adjust-time --bib 99 --by 1s":                                          `"99"`,
		"close-course --course full":                                            `no course "full"; it has half, hours`,
		"close-course --course hours":                                           "closed already, by ruling 1",
		"swap-bibs --bib 1 --with 1":                                            "itself",
		"swap-bibs --bib 3 --with 2":                                            "swapped already, by ruling 2",
		"swap-bibs --bib 1 --with 99":                                           `"99"`,
		"set-gun --wave Z --at 09:00:00":                                        `no wave "Z"; it has A, B, H`,
		"set-wave --bib 1 --wave Z":                                             `no wave "Z"`,
		"set-wave --bib 88 --wave A":                                            "add-athlete",
		"witness --bib 99 --line start --at 09:01:00":                           `"99"`,
		"set-time --bib 1 --split lap-1 --at 09:40:00":                          "has no split \"lap-1\"; it has start, 10k, finish",
		"set-time --bib 3 --split lap-0 --at 09:40:00":                          "no split",
		"set-time --bib 3 --split lap-x --at 09:40:00":                          "no split",
		"set-time --bib 3 --split lap- --at 09:40:00":                           "no split",
		"set-time --bib 88 --split finish --at 09:40:00":                        "on no course",
		"set-time --bib 1 --split 10k --at 09:40:00 --plus-minus -1":            "below 0",
		"use-system --bib 1 --split 10k --system main":                          "no time",
		"use-system --bib 2 --split finish --system main":                       "nothing was read",
		"use-system --bib 1 --split finish --system hand":                       "no time",
		"use-system --bib 1 --split finish --system video":                      "no system",
		"void-passing --bib 1 --line finish --at 10:29:51":                      "the nearest is at 2026-05-17T10:30:00.000+01:00",
		"void-passing --bib 1 --line finish --at 10:33:09":                      "the nearest is at 2026-05-17T10:30:00.000+01:00",
		"void-passing --bib 1 --line finish --at 10:50:00":                      "within",
		"void-passing --bib 1 --line finish --at 11:00:01":                      "undo --seq 6",
		"void-passing --bib 1 --line start --at 10:30:00":                       "no passing",
		"set-status --bib 1 --status dq":                                        "want dns, dnf, dsq or none",
		"set-clock --line finish --system backup":                               "takes --system and --offset, or --stepped",
		"set-clock --line finish --offset 3s":                                   "--system",
		"set-clock --line finish --system hand --offset 3s":                     "has no hand",
		"set-clock --line finish --offset 3s --stepped main":                    "or --stepped",
		"set-clock --line finish --system backup --stepped main":                "not with --stepped",
		"set-clock --line finish --stepped hand":                                "main or backup",
		"set-clock --line finish --stepped main --right both":                   "before or after",
		"set-clock --line start --stepped main":                                 "no clock stepped",
		"set-clock --line start --stepped backup":                               "has no backup",
		"set-clock --line finish --system backup --offset 3s --right after":     "--right",
		"add-athlete --bib 1 --wave A":                                          "listed already: Ada",
		"add-athlete --bib 7 --wave A":                                          "listed already: Cy",
		"add-athlete --bib 9 --wave Z":                                          `no wave "Z"`,
		"add-athlete --bib '5 6' --wave A":                                      `--bib: "5 6" has the character ' '; want a bib without spaces, commas, semicolons, colons and +`,
		"add-athlete --bib a:b+c --wave A":                                      `"a:b+c" has the character ':'`,
		"set-wave --bib 1 --wave A":                                             "bib 1 is in wave A already",
		"add-athlete --bib 9 --wave A --birth 1961-02-29":                       "--birth",
		"add-athlete --bib 9 --wave A --birth soon":                             "--birth",
		"accept --suspect clash:9:finish":                                       "no suspect",
		"accept --suspect overdue:2":                                            "settled already, by ruling 4",
		"undo --seq 9":                                                          "no ruling 9",
		"undo --seq 6":                                                          "no ruling 6",
		"undo --seq 4":                                                          "taken back already, by ruling 5",
	} {
		rs := rulings(t, p, append(earlier, line)...)
		r := rs[len(earlier)]
		r.Seq = 0
		err := Check(&r, p, a, rs[:len(earlier)], state(p))
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v; want one that says %s", line, err, says)
		}
	}
}

// What the console or a hand put together is checked as what `rule` read.
func TestRulingsThatNoCommandMakes(t *testing.T) {
	p := plan(t)
	a, _ := list(p)
	for says, r := range map[string]race.Ruling{
		"no kind of ruling":    {Rule: "neutralise"},
		"lacks --bib":          {Rule: race.SetStatus, Status: "dnf"},
		"lacks --tag":          {Rule: race.IgnoreChip},
		"lacks --seq":          {Rule: race.Undo},
		"takes no --line":      {Rule: race.SetStatus, Status: "dnf", Bib: "1", Line: "finish"},
		"takes no --tag":       {Rule: race.SetStatus, Status: "dnf", Bib: "1", Tags: []string{"FF"}},
		"takes no --seq":       {Rule: race.SetStatus, Status: "dnf", Bib: "1", UndoneSeq: 4},
		"--at: \"noon\"":       {Rule: race.SetGun, Wave: "A", Time: "noon"},
		"--by: \"much\"":       {Rule: race.AdjustTime, Bib: "1", Shift: "much"},
		"--name has":           {Rule: race.AddAthlete, Bib: "9", Wave: "A", Name: strings.Repeat("x", maxText+1)},
		"reason has":           {Rule: race.CloseCourse, Course: "half", Why: strings.Repeat("x", maxText+1)},
		"a ruling needs its r": {Rule: race.CloseCourse, Course: "half", Why: "\t"},
	} {
		if r.Why == "" {
			r.Why = "x"
		}
		if err := Check(&r, p, a, nil, nil); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v; want one that says %s", err, says)
		}
	}
	if err := Check(&race.Ruling{Rule: race.IgnoreChip, Tag: "FF", Why: "x"}, p, a, nil, nil); err != nil {
		t.Errorf("a hand-written ignore-chip of one tag: %v", err)
	}
}

func TestWithoutAStateOnlyTheListsTell(t *testing.T) {
	p := plan(t)
	a, _ := list(p)
	for line, needs := range map[string]bool{
		"accept --suspect clash:9:finish": true, "use-system --bib 2 --split finish --system main": true, "void-passing --bib 1 --line start --at 10:30:00": true,
		"set-clock --line start --stepped main": true, "set-status --bib 1 --status dnf": true, "set-status --bib 1 --status none": false, "adjust-time --bib 1 --by -2m": true, "adjust-time --bib 1 --by +2m": false, "set-time --bib 1 --split 10k --at 09:40:00": true, "add-athlete --bib 9 --wave A": false,
	} {
		r := rulings(t, p, line)[0]
		if err := Check(&r, p, a, nil, nil); err != nil || NeedsState(&r, a, nil) != needs {
			t.Errorf("%s: %v, needs the state: %v", line, err, NeedsState(&r, a, nil))
		}
	}
	r := rulings(t, p, "set-status --bib 88 --status dsq")[0]
	if Check(&r, p, a, nil, nil) == nil || !NeedsState(&r, a, nil) {
		t.Error("a bib that only the reads know")
	}
	given := rulings(t, p, "assign-chip --tag FF --bib 88")
	if err := Check(&r, p, a, given, nil); err != nil {
		t.Errorf("a bib that a ruling gave a chip: %v", err)
	}
}
