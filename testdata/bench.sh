#!/bin/sh
# Figures, never a pass or fail: how long the program takes at the size of a
# kennel, beside the sqlite3 shell doing the bare work and beside what people do
# instead, a script in pandas or R over the CSV. Commands that are compared run in
# turn; medians and ratios are printed. Needs Go. What it makes is kept in
# $BENCH_DIR for the next time; docs/performance.md says more.
#
#   BENCH_DIR=folder   where the invented kennels are (default: a folder in $TMPDIR)
#   BENCH_TEN=1        also 10 million trials (1.3 GB, some minutes)
#   BENCH_ROUNDS=5     rounds of the long comparisons; the short ones run more
set -eu
cd "$(dirname "$0")/.."
scripts=$PWD/testdata/bench
dir=${BENCH_DIR:-${TMPDIR:-/tmp}/firstcue-bench}
rounds=${BENCH_ROUNDS:-5}
short=$((rounds * 4 + 1))
mkdir -p "$dir"
case $dir$scripts in *[[:blank:]]*) echo "bench: BENCH_DIR and the checkout must have no blank in their paths" >&2; exit 1 ;; esac

missing() { echo "missing: $1 (apt-get install $2); its comparisons are left out"; }
shell=$(command -v sqlite3) || missing sqlite3 sqlite3
r=$(command -v Rscript) && "$r" -e 'library(survival)' >/dev/null 2>&1 || { r=; missing "R with survival" "r-base-core r-cran-survival"; }
pandas=
for python in python3 /usr/bin/python3; do
	if [ -z "$pandas" ] && "$python" -c 'import pandas' 2>/dev/null; then pandas=$python; fi
done
[ -n "$pandas" ] || missing pandas python3-pandas

CGO_ENABLED=0 go build -trimpath -ldflags "-s -w" -o "$dir/firstcue" ./cmd/firstcue
go build -o "$dir/generate" ./internal/store/generate
go build -o "$dir/measure" ./internal/store/measure

# A kennel made by another generator or for other tables is made again.
made=$(cat internal/store/generate/main.go internal/store/migrations/*.sql | cksum)
[ "$(cat "$dir/made" 2>/dev/null)" = "$made" ] || rm -f "$dir"/*.db "$dir"/*.csv
echo "$made" >"$dir/made"
kennel() { # name, dogs
	[ -f "$dir/$1.db" ] || { echo "making $1 trials" >&2; "$dir/generate" -dogs "$2" -full "$dir/$1.db.part"; mv "$dir/$1.db.part" "$dir/$1.db"; }
}
kennel 100k 250
kennel 1m 2500
[ -f "$dir/trials.csv" ] || "$dir/generate" -dogs 2500 -csv "$dir/trials.csv"
[ -f "$dir/lists.db" ] || "$dir/generate" -dogs 2500 -lists "$dir/lists.db"
sizes="100k 1m"
if [ -n "${BENCH_TEN:-}" ]; then
	kennel 10m 25000
	sizes="100k 1m 10m"
fi

cd "$dir"
note='printf "dog: Barric 0; handler: Tove\nstart: 2026-03-20T%02d:%02d:%02d+01:00; place: paddock; leash: off; distraction: 2\n\nsit 20+\n" $(({n} / 3600 % 20)) $(({n} / 60 % 60)) $(({n} % 60)) >note.txt'
import() { echo "./firstcue --store run1.db import trials.csv -q --yes"; }
log() { echo "./firstcue --store run-$1.db log note.txt -q"; }
report() { echo "./firstcue --store $1.db report Barric~0 --as-of 2026-03-20"; }
nightly() { echo "./firstcue --store $1.db nightly --day 2026-03-20"; }

# against TITLE BAR ROUNDS PREPARE COMMAND NAME OTHER: one line each, and the ratio.
against() {
	echo
	echo "$1, bar $2"
	./measure -rounds "$3" -bar "$2" -prepare "$4" firstcue "$5" "$6" "$7"
}

echo
echo "binary, stripped: $(($(wc -c <firstcue) / 1000000)) MB (bar 28)"
echo "load: $(uptime | sed 's/.*load/load/')"

for size in $sizes; do cp "$size.db" "run-$size.db"; done
if [ -n "$shell" ]; then
	against "import 1 M trials from CSV (memory bar 150 MB)" 1.3 "$rounds" 'rm -f run{c}.db*; cp lists.db run{c}.db' \
		"$(import)" "sqlite3 .import, insert" "sqlite3 run2.db <$scripts/import.sql"
	cp 1m.db run2.db
	against "log one session of 20 trials into 1m, on the disk" 3.5 "$short" "$note" "$(log 1m)" "sqlite3 insert" "sqlite3 run2.db <$scripts/log.sql"
	against "report of one dog in 1m" 5 "$short" true "$(report 1m)" "sqlite3 bare select" "sqlite3 -readonly 1m.db <$scripts/report.sql"
	against "nightly of 20 boarded dogs in 1m" 0.25 "$rounds" true "$(nightly 1m)" "sqlite3 bare GROUP BY" "sqlite3 -readonly 1m.db <$scripts/nightly.sql"
else
	./measure -rounds "$rounds" -prepare 'rm -f run1.db*; cp lists.db run1.db' import "$(import)"
fi
for other in ${pandas:+"$pandas:dogs.py"} ${r:+"$r:dogs.R"}; do
	run="${other%:*} $scripts/${other#*:} trials.csv"
	against "report of one dog against ${other#*:} on the CSV" 0.02 "$rounds" true "$(report 1m)" "${other#*:}" "$run Barric~0"
	against "nightly against ${other#*:} on the CSV" 0.1 "$rounds" true "$(nightly 1m)" "${other#*:}" "$run"
done
for what in log report nightly; do
	echo
	echo "$what: the largest kennel against the smaller ones, bar 1.15"
	large=${sizes##* }
	set -- "$large" "$($what "$large")"
	for size in $sizes; do
		[ "$size" = "$large" ] || set -- "$@" "$size" "$($what "$size")"
	done
	./measure -rounds "$short" -bar 1.15 -prepare "$note" "$@"
done
rm -f run1.db* run2.db* run-*
