# An index of commands; the logic is in the tools they call.

.PHONY: build test check golden schemas cover bench oracle mcmc proof torture fuzz browser-test sheet-test man dist clean

build: ## the program, pure Go, into ./firstcue
	CGO_ENABLED=0 go build -trimpath -ldflags "-s -w" -o firstcue ./cmd/firstcue

test: ## README's test command
	go test ./...

check: ## what the server runs
	bash .ci/run

golden: ## rewrite stored outputs, then read the difference
	go test ./internal/report ./internal/cli -update

schemas: ## docs/schemas from the types and the comments of their fields
	go test ./internal/cli -run TestSchemasAreThoseOfTheValues -schemas

cover:
	go test -coverprofile=cover.out ./... && go tool cover -func=cover.out | tail -n 1

bench: ## figures, never a pass or fail; ratios to sqlite3, pandas and R where installed
	sh testdata/bench.sh

oracle: ## recompute a random sample of cases in R (Debian: r-base-core r-cran-survival)
	@command -v Rscript >/dev/null || { echo "missing: Rscript (apt-get install r-base-core r-cran-survival)"; exit 1; }
	FIRSTCUE_ORACLE=1 go test -count=1 -v -run Oracle ./internal/stats

mcmc: ## recompute the long runs that internal/model is held against, in R: most of an hour
	cd testdata/published && Rscript level_mcmc.R 8000

proof: ## run the simulator on the shipped rules and rewrite docs/proof.md
	go run ./internal/analysis/simulate -out docs/proof.md

torture: ## 300 kills of the program and 300 of the store, 8 processes
	FIRSTCUE_TORTURE=300 go test -count=1 -v -timeout 60m -run KilledProgram ./internal/cli
	FIRSTCUE_TORTURE=300 FIRSTCUE_WRITERS=7 FIRSTCUE_SESSIONS=2000 FIRSTCUE_MERGES=100 \
		go test -count=1 -v -timeout 60m -run 'Killed|Together|Locked|DiskFull|Damage|Merge' ./internal/store

fuzz: ## each fuzz target for a while: make fuzz FOR=5m
	sh testdata/fuzz.sh $(or $(FOR),2m)

browser-test: ## the HTML pages in real headless Chromium, with an accessibility engine
	sh internal/report/testdata/browser/run.sh

sheet-test: ## exported files in LibreOffice: columns and types
	sh internal/report/testdata/sheet/run.sh

man: ## manual pages from the command definitions into ./dist/man
	go run ./internal/cli/manual dist/man

dist: ## archives for Linux, macOS and Windows with their SHA-256 sums, into ./dist
	sh testdata/dist.sh $(VERSION)

clean:
	rm -rf firstcue bin dist cover.out
