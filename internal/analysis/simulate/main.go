// Simulate measures the shipped judgement on dogs whose truth is known and
// writes what it found as a Markdown page:
//
//	go run ./internal/analysis/simulate -out docs/proof.md
//
// It is no part of the program that trainers use.
package main

import (
	"flag"
	"fmt"
	"os"
	"runtime/debug"
	"time"
)

// env is what a run depends on. The page depends on seed and quick alone.
type env struct {
	seed    uint64
	quick   bool
	workers int // goroutines; 0 = one a processor
	log     func(format string, args ...any)
}

// n is the number of replicates of a cell.
func (e env) n(full, quick int) int {
	if e.quick {
		return quick
	}
	return full
}

func (e env) mode() string {
	if e.quick {
		return " (a quick run: errors are large)"
	}
	return ""
}

// study is one part of the page.
type study struct {
	name string
	run  func(env, *page)
}

func studies() []study {
	return []study{
		{"verdict", verdictTable},
		{"intervals", intervals},
		{"slipping", slipping},
		{"forecast", forecasts},
		{"guard", guard},
		{"tradeoffs", tradeoffs},
	}
}

// simulate runs the studies and returns the page.
func simulate(e env, list []study) *page {
	p := &page{}
	for _, s := range list {
		begin := time.Now()
		s.run(e, p)
		if e.log != nil {
			e.log("%-12s %6.1f s", s.name, time.Since(begin).Seconds())
		}
	}
	return p
}

func main() {
	out := flag.String("out", "", "file to write the page to; empty: standard output")
	quick := flag.Bool("quick", false, "few replicates: a minute instead of a quarter of an hour")
	only := flag.String("only", "", "run this study alone")
	seed := flag.Uint64("seed", 20260302, "seed of all random numbers")
	workers := flag.Int("workers", 0, "goroutines; 0: one a processor")
	flag.Parse()
	debug.SetGCPercent(400) // many small records, plenty of memory
	e := env{seed: *seed, quick: *quick, workers: *workers, log: func(format string, args ...any) {
		fmt.Fprintf(os.Stderr, format+"\n", args...)
	}}
	list := studies()
	if *only != "" {
		list = nil
		for _, s := range studies() {
			if s.name == *only {
				list = append(list, s)
			}
		}
		if list == nil {
			fmt.Fprintf(os.Stderr, "there is no study %q; the studies are", *only)
			for _, s := range studies() {
				fmt.Fprintf(os.Stderr, " %s", s.name)
			}
			fmt.Fprintln(os.Stderr)
			os.Exit(2)
		}
	}
	text := simulate(e, list).write(e)
	if *out == "" {
		fmt.Print(text)
		return
	}
	if err := os.WriteFile(*out, []byte(text), 0o644); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
