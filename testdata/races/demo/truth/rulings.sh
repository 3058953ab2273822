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

rule set-status --bib 1 --status dns --why 'never came to the start'
rule set-status --bib 6 --status none --why 'was there after all'
rule assign-chip --tag '36C19E3779FE000000090112' --bib 12 --why 'handed out at the desk and not written down'
rule add-athlete --bib 4 --name 'Nevvia Gorsen' --wave 'A' --sex f --birth 2000 --why 'entered on the day'
rule swap-bibs --bib 15 --with 8 --why 'they mixed up their chips'
rule set-status --bib 13 --status dsq --why 'the chip was carried by 14'
rule set-status --bib 7 --status dsq --why 'cut the course before 20k'
rule set-status --bib 16 --status dnf --why 'brought in by the sweep'
accept early-start 11 '' '' 'timed from the own start, as the rules have it'
accept unassigned-chip '' '' '36C40388D3443327006ACFC0' 'a chip of another race'

echo "rulings: $ok taken, $no not; $none times there was nothing to accept" >&2
[ "$no" -eq 0 ]
