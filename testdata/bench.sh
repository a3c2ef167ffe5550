#!/bin/sh
# Figures, never a pass or fail: how long the program takes at the size of a
# kennel, beside the sqlite3 shell and R doing the bare work. Commands that are
# compared run in turn; medians and ratios are printed. Needs Go. What it makes
# is kept in $BENCH_DIR for the next time; docs/performance.md says more.
#
#   BENCH_DIR=folder   where the invented kennels are (default: a folder in $TMPDIR)
#   BENCH_TEN=1        also 10 million trials (1.3 GB, some minutes)
#   BENCH_ROUNDS=5     rounds of the long comparisons; the short ones run more
set -eu
cd "$(dirname "$0")/.."
sql=$PWD/testdata/bench
dir=${BENCH_DIR:-${TMPDIR:-/tmp}/firstcue-bench}
rounds=${BENCH_ROUNDS:-5}
short=$((rounds * 4 + 1))
mkdir -p "$dir"
case $dir$sql in *[[:blank:]]*) echo "bench: BENCH_DIR and the checkout must have no blank in their paths" >&2; exit 1 ;; esac
for need in sqlite3:sqlite3 Rscript:r-base-core; do
	command -v "${need%%:*}" >/dev/null || echo "missing: ${need%%:*} (apt-get install ${need##*:}); its comparisons are left out"
done
has() { command -v "$1" >/dev/null; }

export CGO_ENABLED=0
go build -trimpath -ldflags "-s -w" -o "$dir/firstcue" ./cmd/firstcue
go build -o "$dir/generate" ./internal/store/generate
go build -o "$dir/measure" ./internal/store/measure
cat >"$dir/empty.go" <<-'GO'
	package main

	import "github.com/spf13/cobra"

	func main() {
		c := &cobra.Command{Use: "empty", Version: "0"}
		c.Execute()
	}
GO
go build -trimpath -ldflags "-s -w" -o "$dir/empty" "$dir/empty.go"

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
day="2026-03-20"
shell() { if has sqlite3; then echo "$@"; fi; }
compare() { ./measure "$@"; }

echo
echo "binary, stripped: $(($(wc -c <firstcue) / 1000)) kB (bar 20000)"
echo "load: $(uptime | sed 's/.*load/load/')"

echo
echo "start: --version against an empty program with cobra, bar 1.5"
compare -rounds 41 -bar 1.5 firstcue "./firstcue --version" empty "./empty --version"

echo
echo "import 1 M trials from CSV, whole process, bar 0.75; memory bar 100 MB"
if has sqlite3; then
	compare -rounds "$rounds" -bar 0.75 -prepare 'rm -f run{c}.db*; cp lists.db run{c}.db' \
		firstcue "./firstcue --store run1.db import trials.csv -q --yes" \
		"sqlite3 .import, insert" "sqlite3 run2.db <$sql/import.sql"
else
	compare -rounds "$rounds" -prepare 'rm -f run1.db*; cp lists.db run1.db' firstcue "./firstcue --store run1.db import trials.csv -q --yes"
fi
rm -f run1.db* run2.db*

for size in $sizes; do
	echo
	echo "log one session of 20 trials into $size, whole process, on the disk, bar 2.5"
	cp "$size.db" run1.db
	cp "$size.db" run2.db
	prepare='printf "dog: Barric 0; handler: Tove\nstart: 2026-03-20T%02d:%02d:%02d+01:00; place: paddock; leash: off; distraction: 2\n\nsit 20+\n" $(({n} / 3600 % 20)) $(({n} / 60 % 60)) $(({n} % 60)) >note.txt'
	if has sqlite3; then
		compare -rounds "$short" -bar 2.5 -prepare "$prepare" firstcue "./firstcue --store run1.db log note.txt -q" "sqlite3 insert" "sqlite3 run2.db <$sql/log.sql"
	else
		compare -rounds "$short" -prepare "$prepare" firstcue "./firstcue --store run1.db log note.txt -q"
	fi
	rm -f run1.db* run2.db*
done

report() { echo "./firstcue --store $1.db report Barric~0 --as-of $day"; }
nightly() { echo "./firstcue --store $1.db nightly --day $day"; }
if has sqlite3; then
	echo
	echo "report of one dog in 1m, bar 2.2"
	compare -rounds "$short" -bar 2.2 firstcue "$(report 1m)" "sqlite3 bare select" "sqlite3 -readonly 1m.db <$sql/report.sql"
	echo
	echo "nightly of 20 boarded dogs in 1m, bar 0.15"
	compare -rounds "$rounds" -bar 0.15 firstcue "$(nightly 1m)" "sqlite3 bare GROUP BY" "sqlite3 -readonly 1m.db <$sql/nightly.sql"
fi
if has Rscript; then
	echo
	echo "nightly against R on the CSV, bar 0.05"
	compare -rounds 3 -bar 0.05 firstcue "$(nightly 1m)" "R, CSV" "Rscript $sql/nightly.R trials.csv"
fi
for what in report nightly; do
	echo
	echo "$what: the largest kennel against the smaller ones, bar 1.1"
	large=${sizes##* }
	set -- "$large" "$($what "$large")"
	for size in $sizes; do
		[ "$size" = "$large" ] || set -- "$@" "$size" "$($what "$size")"
	done
	compare -rounds "$short" -bar 1.1 "$@"
done

cd - >/dev/null
echo
echo "packages (bars: Assess of 1,000 trials 5 ms; Mann-Kendall and Theil-Sen of 500 points 1 ms; Kaplan-Meier of 100,000 50 ms)"
go test -run '^$' -bench . -benchtime 20x ./internal/stats ./internal/analysis ./internal/sheet | grep -E '^(Benchmark|ok)'
