#!/bin/bash
# Rules what someone who knows the whole truth would rule.
#   RACE=folder [TWINMAT=program] bash rulings.sh
# Leaves with 0 when every ruling was taken, else with 1.
set -u
: "${RACE:?set RACE to the race folder}"
program=${TWINMAT:-twinmat}
ok=0 no=0 none=0 out=

rule() {
  if $program rule "$RACE" "$@" >/dev/null; then ok=$((ok + 1)); return; fi
  no=$((no + 1))
  echo "not taken: $*" >&2
}

# accept KIND BIB SPLIT TAG WHY takes every open suspect that fits; an empty word fits all.
# They are looked up in an export made after the rulings before.
accept() {
  local ids
  if [ -z "$out" ]; then
    out=$(mktemp -d)
    trap 'rm -rf "$out"' EXIT
    $program export "$RACE" --out "$out" >/dev/null || echo "no export" >&2
  fi
  ids=$(awk -F, -v kind="$1" -v bib="$2" -v mark="$3" -v tag="$4" '
    NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; next }
    $at["kind"] != kind || $at["status"] != "open" { next }
    bib != "" && $at["bib"] != bib { next }
    mark != "" && $at["split"] != "" && $at["split"] != mark { next }
    tag != "" && $at["tag"] != tag { next }
    { print $at["id"] }' "$out/suspects.csv" 2>/dev/null)
  [ -n "$ids" ] || none=$((none + 1))
  for id in $ids; do rule accept --suspect "$id" --why "$5"; done
}

rule set-status --bib 5 --status dnf --why 'brought in by the sweep'
accept missing-split 2 'lap-28' '' 'was on the course, no film of this place'

echo "rulings: $ok taken, $no not; $none times there was nothing to accept" >&2
[ "$no" -eq 0 ]
