#!/usr/bin/env bash
# Counts the instructions of one demonstration hour (half an hour of driving, half an hour parked): a measure of work that
# a busy machine does not change.
#
#   tests/bench/instructions.sh [FUNCTIONS]     FUNCTIONS: how many of the costliest to list (20)
set -euo pipefail
command -v valgrind > /dev/null || { echo "needs valgrind" >&2; exit 2; }
here=$(cd "$(dirname "$0")" && pwd)
shown=${1:-20}
cargo build --quiet --release --manifest-path "$here/Cargo.toml"
out=$(mktemp)
trap 'rm -f "$out"' EXIT
# what reading the sheet and recording cost is left out: only the march is collected
valgrind --tool=callgrind --callgrind-out-file="$out" --collect-atstart=no --toggle-collect='*cases::replay*' \
  "$here/target/release/baysoak-bench" march 2>&1 | grep -E 'Collected|steps' || true
callgrind_annotate --threshold=100 "$out" | grep -E '^ *[0-9,]+ \(' | head -n "$((shown + 1))"
