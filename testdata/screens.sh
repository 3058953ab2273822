#!/usr/bin/env bash
# Captures the console's screens from the demo race as text: testdata/screens/*.txt, and puts
# those that README.md shows into it, below <!-- screen: NAME -->.
# Wants tmux and go. Run it from anywhere after a change of the look, and read what it writes.
set -euo pipefail
cd "$(dirname "$0")/.."
dir=$(mktemp -d); trap 'tmux -S "$dir/s" kill-server 2>/dev/null; rm -rf "$dir"' EXIT
go build -o "$dir/twinmat" ./cmd/twinmat
"$dir/twinmat" demo --write-only --dir "$dir/race" >/dev/null
export TERM=xterm-256color LC_ALL=C.UTF-8
tmux -S "$dir/s" new-session -d -s t -x 100 -y 30 "$dir/twinmat watch $dir/race --quiet"
show() { # NAME WAIT-FOR
  for _ in $(seq 200); do
    tmux -S "$dir/s" capture-pane -p -J -t t | sed 's/ *$//' > "$dir/screen"
    grep -q "$2" "$dir/screen" && break
    sleep 0.1
  done
  cp "$dir/screen" "testdata/screens/$1.txt"
}
keys() { tmux -S "$dir/s" send-keys -t t "$@"; sleep 0.4; }
mkdir -p testdata/screens
show desk "open cases"
keys Enter;  show settling "enter apply"
keys Escape; keys 3; keys Enter; show athlete "esc back"
keys Escape; keys 4; show clocks "how far each pair"
keys 5; show systems "the sum is right"
for name in desk settling athlete clocks; do
  awk -v name="$name" -v file="testdata/screens/$name.txt" '
    skip && /^```$/ { skip = 0 }
    skip { next }
    { print }
    $0 == "<!-- screen: " name " -->" { getline; print; while ((getline line < file) > 0) print line; skip = 1 }
  ' README.md > "$dir/readme"
  cp "$dir/readme" README.md
done
