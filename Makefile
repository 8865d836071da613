# Commands for who changes delaybook. DEVELOPERS.md says more.

.DEFAULT_GOAL := help
.PHONY: help demo run bin screenshots test check lint fmt generate verify bench fuzz soak coverage

# The tools are a module of their own, so that what they need never shows up in the program's go.mod.
TOOL := go tool -modfile=.ci/tools/go.mod
FUZZN ?= 200000
BENCH ?= .
PACKAGES ?= ./...
REPLICATES ?= 2000

help: ## Print this list
	@awk -F ':.*## ' '/^[a-z]+:.*## / {printf "%-11s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

demo: bin ## Show it: a made-up company, on a database of its own
	@.ci/setup postgres
	bin/delaybook demo

run: bin ## Serve your own book on an embedded database
	@.ci/setup postgres
	bin/delaybook serve

bin: ## Build the programs into bin, where each finds the other
	go build -o bin/ ./cmd/delaybook ./cmd/delaybook-decode

screenshots: ## A picture of every page in light and dark, into screenshots/
	@.ci/setup
	SCREENSHOTS=$(CURDIR)/screenshots go test -count=1 -run='TestEveryPageInLightAndDark|TestPagesFitOtherScreens|TestAnEditorLetsSomebodyInAndOut' ./api/pages
	SCREENSHOTS=$(CURDIR)/screenshots go test -count=1 ./cmd/internal/pagestest

test: ## All tests, with the race detector and in random order
	@.ci/setup
	go test -race -shuffle=on $(PACKAGES)

check: verify lint test ## All that has to pass; run it before you commit

lint: ## Format, vet, staticcheck
	@stale=$$($(TOOL) gofumpt -l .) && test -z "$$stale" || { echo "run make fmt: $$stale" >&2; exit 1; }
	go vet ./...
	$(TOOL) staticcheck ./...

fmt: ## Rewrite code and API comments in the house format
	$(TOOL) gofumpt -w .
	$(TOOL) swag fmt --dir api --generalInfo server.go

generate: ## Rebuild openapi/openapi.json from the handlers
	go run ./openapi/internal/generate

verify: ## Fail if a generated file or a go.mod is stale
	go mod tidy -diff
	cd .ci/tools && go mod tidy -diff
	go run ./openapi/internal/generate -check

bench: ## Benchmarks, six times each; BENCH= and PACKAGES= choose
	go test -run='^$$' -bench='$(BENCH)' -benchmem -count=6 $(PACKAGES) >bench.txt || { cat bench.txt; exit 1; }
	$(TOOL) benchstat bench.txt

fuzz: ## Fuzz every target for FUZZN inputs
	.ci/fuzz $(FUZZN)

soak: ## Try 200 damaged recordings; make every file of the card and read it back; minutes
	go test ./cmd/internal/decoder -run TestFlippedBytes -count=1 -flips=200
	go test -count=1 -timeout=1h -v -run=ReadBack ./cmd/internal/cardfile -all

coverage: ## Coverage and network studies of the intervals; REPLICATES= makes them shorter
	go run ./cmd/coverage -replicates $(REPLICATES) -network $$(( $(REPLICATES) / 10 ))
