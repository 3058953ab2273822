package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The pages in a browser: no message on its console, and nothing to scroll sideways for on
// a wide screen and on a telephone.
func TestPagesInABrowser(t *testing.T) {
	browser, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("SKIPPED: there is no chromium here")
	}
	if testing.Short() {
		t.Skip("not in a short run")
	}
	dir := filepath.Join(t.TempDir(), "race")
	for _, a := range [][]string{{"demo", "--write-only", "--dir", dir}, {"export", dir}, {"report", dir}} {
		if b, err := asItself(a...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %v %s", a, err, b)
		}
	}
	// A window can't be as narrow as a telephone, a frame can; it tells the page around it.
	const measure = `<script>addEventListener("load", () => parent.postMessage(document.documentElement.scrollWidth + " of " + innerWidth, "*"))</script>`
	const around = `<!doctype html><iframe src="page.html" style="width:%dpx;height:900px;border:0"></iframe>
<script>addEventListener("message", e => { document.documentElement.dataset.wide = e.data })</script>`
	for _, page := range []string{"report.html", filepath.Join("out", "announcer.html")} {
		b, err := os.ReadFile(filepath.Join(dir, page))
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "page.html")
		if err := os.WriteFile(path, append(b, measure...), 0o644); err != nil {
			t.Fatal(err)
		}
		for _, width := range []int{1280, 390} {
			frame := filepath.Join(filepath.Dir(path), "frame.html")
			if err := os.WriteFile(frame, fmt.Appendf(nil, around, width), 0o644); err != nil {
				t.Fatal(err)
			}
			ctx, stop := context.WithTimeout(t.Context(), 2*time.Minute)
			defer stop()
			c := exec.CommandContext(ctx, browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
				"--disable-component-update", "--disable-sync", "--user-data-dir="+t.TempDir(), "--enable-logging=stderr", "--window-size=1400,1000", "--virtual-time-budget=3000", "--dump-dom", "file://"+frame)
			var said strings.Builder
			c.Stderr = &said
			dom, err := c.Output()
			if err != nil {
				t.Skipf("SKIPPED: chromium doesn't run here: %v", err)
			}
			if strings.Contains(said.String(), "CONSOLE") {
				t.Errorf("%s, %d px: the browser's console says\n%s", page, width, said.String())
			}
			var needs, has int
			_, after, found := strings.Cut(string(dom), `data-wide="`)
			if _, err := fmt.Sscanf(after, "%d of %d", &needs, &has); !found || err != nil {
				t.Errorf("%s, %d px: the page was not laid out", page, width)
			} else if needs > has || has != width {
				t.Errorf("%s, %d px: %d px wide where there are %d", page, width, needs, has)
			}
		}
	}
}
