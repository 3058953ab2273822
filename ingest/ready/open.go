package ready

import (
	"fmt"
	"os"
	"path/filepath"

	"twinmat/ingest/logs"
	"twinmat/ingest/plan"
	"twinmat/reconcile/race"
)

// inspect opens a log and reads it to its end. Pipes and devices have none.
func inspect(path string, p *race.Plan) (logs.Found, error) {
	info, err := os.Stat(path)
	if err != nil {
		return logs.Found{}, err
	}
	if info.IsDir() {
		return logs.Found{}, fmt.Errorf("%s is a folder; want a log in it", path)
	}
	if !info.Mode().IsRegular() {
		return logs.Found{}, fmt.Errorf("%s is no plain file; want a log", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return logs.Found{}, err
	}
	defer f.Close()
	return logs.Inspect(path, f, p)
}

func planIn(dir string) *race.Plan {
	if _, err := os.Stat(filepath.Join(dir, plan.TomlFile)); err != nil {
		return nil
	}
	r, _ := plan.Draft(dir)
	if r == nil {
		return nil
	}
	return r.Plan
}
