#!/usr/bin/env bash
# Plays five minutes of a race day in this terminal: the demo race comes in sixty times as
# fast as it was, and a timer settles what turns up. Each step is told, then shown as the
# screen stands. Wants tmux and go; -q tells it without the pauses.
set -euo pipefail
cd "$(dirname "$0")/.."
pause() { sleep "$1"; }
[ "${1:-}" = -q ] && pause() { :; }
dir=$(mktemp -d); trap 'tmux -S "$dir/s" kill-server 2>/dev/null; rm -rf "$dir"' EXIT
go build -o "$dir/twinmat" ./cmd/twinmat
export TERM=xterm-256color LC_ALL=C.UTF-8
tmux -S "$dir/s" new-session -d -s t -x 100 -y 30 "$dir/twinmat demo --dir $dir/race --speed 60 --quiet"

keys() { tmux -S "$dir/s" send-keys -t t "$@"; sleep 0.5; }
screen() { tmux -S "$dir/s" capture-pane -p -J -t t; }
until_seen() { # TEXT
  for _ in $(seq 1200); do screen | grep -q -- "$1" && return; sleep 0.25; done
  echo "never came: $1" >&2; screen >&2; exit 1
}
tell() { printf '\n\033[1m%s\033[0m\n\n' "$*"; screen; pause 8; }

until_seen "race clock"
keys 2
until_seen "start"
tell "The gun has sounded; who crosses which line, the newest first."
keys 1
until_seen "started early"
tell "The desk. Somebody crossed the start before their gun: that holds their time."
keys Enter; until_seen "enter apply"
tell "The case on the table: the evidence, the rulings offered, and what the chosen one changes."
keys Enter; until_seen "saved as ruling"
tell "Settled with two keys, and on disk before it was on the screen. u would take it back."
keys 5; until_seen "the sum is right"
tell "The systems: reads a minute, how much of all each one saw, and that no read is lost."
keys 4; until_seen "how far each pair"
tell "The clocks: what backup's runs to main's, and how far each pair lies from that."
keys 1; until_seen "nobody.s chip"
tell "A chip that nobody owns is going round."
keys /; keys 1; keys 2; keys Escape
keys 6; until_seen "on the way"
tell "Who is still out. A chip that isn't read says nothing about where a person is: the marshals know."
keys E; until_seen "written to"
keys 8; until_seen "exported"
tell "The export: who goes out, who is held and why. Files are replaced whole or not at all."
keys u; until_seen "esc back"
tell "And a second thought: the ruling can be taken back, now or tomorrow."
keys Escape; keys q
pause 1
