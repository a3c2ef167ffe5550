#!/bin/sh
# Runs every fuzz target of the module for the given time each.
# usage: sh testdata/fuzz.sh 2m
# A second is enough to make an input small: the paths through SQLite differ from
# run to run, and with the usual minute FuzzBundle does little else.
set -eu
cd "$(dirname "$0")/.."
time=${1:-2m}
for package in $(go list ./...); do
  for target in $(go test -list '^Fuzz' "$package" | grep '^Fuzz' || true); do
    echo "== $package $target $time"
    go test -run '^$' -fuzz "^$target\$" -fuzztime "$time" -fuzzminimizetime 1s -parallel 2 "$package"
  done
done
