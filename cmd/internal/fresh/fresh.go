// Package fresh writes a race folder to start from.
package fresh

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

//go:embed race
var files embed.FS

// The plan comes last: a folder that couldn't be written whole is no race.
var names = []string{"athletes.csv", "chips.csv", "race.toml"}

// Write makes a race folder for a race on today's date. A folder that holds any part of a
// race is left as it is.
func Write(dir string, today time.Time) error {
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return fmt.Errorf("%s is a file; want a folder, or a name for a new one", dir)
	}
	for _, name := range []string{"race.toml", "athletes.csv", "chips.csv", "rulings.jsonl"} {
		_, err := os.Lstat(filepath.Join(dir, name))
		if err == nil {
			return fmt.Errorf("%s holds %s already; want a new folder", dir, name)
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	if err := os.MkdirAll(filepath.Join(dir, "logs"), 0o755); err != nil {
		return err
	}
	for _, name := range names {
		b, err := files.ReadFile("race/" + name)
		if err != nil {
			return err
		}
		text := strings.NewReplacer("@DATE@", today.Format("2006-01-02"), "@ZONE@", zone()).Replace(string(b))
		if err := write(filepath.Join(dir, name), text); err != nil {
			return err
		}
	}
	return nil
}

// write makes a new file: one that came meanwhile is not written over.
func write(path, text string) (err error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	_, err = f.WriteString(text)
	return err
}

// zone is this laptop's, where it says its name; else UTC.
func zone() string {
	name := os.Getenv("TZ")
	if link, err := os.Readlink("/etc/localtime"); name == "" && err == nil {
		_, name, _ = strings.Cut(filepath.ToSlash(link), "zoneinfo/")
	}
	if _, err := time.LoadLocation(name); err != nil || name == "" || name == "Local" || strings.ContainsAny(name, "\"\\:") {
		return "UTC"
	}
	return name
}
