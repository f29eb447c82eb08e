# gatefold: `make demo` shows it working, `make test` checks it; `make help` lists the rest.

SHELL := /bin/bash
.DEFAULT_GOAL := help
BIN := bin/gatefold
GO ?= go

# Tests of the pages in which goroutines meet; the others ask for one page after another.
MEET := AtOnce|Live|Photos|Hold|Stale|TestPair|TestPhone|EveryEvent|Restart

.PHONY: help demo test race bench lint fuzz golden train build packages clean release release-check

help: ## list what can be made
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed 's/:.*## /\t/' | expand -t 15

packages: ## install the distribution packages (sudo only when not root)
	@.ci/packages demo

build: packages ## build the one binary, bin/gatefold
	@mkdir -p bin
	@echo "building $(BIN) (the first time takes a minute or two)"
	@$(GO) build -o $(BIN) ./cmd/gatefold

demo: build ## read the bundled stack of photos into demo/ and say where to look
	@testdata/demo.sh $(BIN) demo

test: ## set up what the tests need and run them all
	@.ci/packages test
	@.ci/axe
	# With the tag of the tests below, so that OpenCV's binding is compiled once for both.
	$(GO) vet -tags matprofile ./...
	@echo "without cgo: the nouns, the rules, the page, the archive"
	CGO_ENABLED=0 $(GO) build -o /dev/null ./cmd/gatefold
	# ./... leaves folders named testdata out, so the split is named.
	CGO_ENABLED=0 $(GO) test -timeout 20m ./sheetmodel/... ./rules/... ./review/... ./testdata/split
	@echo "with images; a Mat that is not closed fails the tests of its package"
	$(GO) test -timeout 20m -tags matprofile ./cmd/... ./scan/... ./ocr/...
	@echo "with the race detector, which makes all five to ten times slower: where goroutines meet; the rest with make race"
	$(GO) test -race -short -run '$(MEET)' -skip InChromium -timeout 20m ./review & pages=$$!; \
	  $(GO) test -race -short -skip 'AnyShortHistory|IsHeldAndKeptApart' -timeout 20m ./review/crop ./review/look ./review/queue ./review/stack ./review/store ./review/web ./sheetmodel/racefolder; \
	  rest=$$?; wait $$pages && [ $$rest = 0 ]
	# No two of these work at once in the program: a few of their tests are enough here.
	$(GO) test -race -short -run 'Cases|SameRaceSameTime|Tampered' ./rules ./review/archive
	$(GO) test -race -run TestBundledStack_SettledFromTheTruth ./cmd/gatefold

race: ## run everything that has no pictures under the race detector; some twenty minutes
	$(GO) test -race -timeout 60m ./sheetmodel/... ./rules/... ./review/...

bench: build ## measure accuracy and speed into testdata/bench (the 15-minute subset)
	$(GO) run ./cmd/gatefold-bench

lint: ## run the linter in the version of .ci/tools
	@cd .ci/tools && $(GO) build -o ../../bin/golangci-lint github.com/golangci/golangci-lint/v2/cmd/golangci-lint
	bin/golangci-lint run ./...

fuzz: ## fuzz every parser for a minute each
	@for p in $$(grep -rl '^func Fuzz' --include=*_test.go . | xargs -n1 dirname | sort -u); do \
	  for f in $$(grep -hoE '^func Fuzz[A-Za-z0-9_]+' $$p/*_test.go | sed 's/func //'); do \
	    $(GO) test $$p -run='^$$' -fuzz="^$$f$$" -fuzztime=60s -fuzzminimizetime=20x || exit 1; done; done

golden: ## rewrite every expected file, to be judged in the diff
	$(GO) test ./sheetmodel/print -update
	$(GO) test ./rules ./review/look ./ocr/joint -rewrite
	$(GO) test ./cmd/gatefold -run TestScripts -update

train: ## make the reader's weights anew: make train TRAIN="..."; without TRAIN it says what is needed
	ocr/train/run.sh $(TRAIN)

release: ## make the release of this commit into out/release: tar, Debian package, programs without pictures
	@.ci/release

release-check: ## look at that release part by part, prove its tar on the next Debian and its package on Debian 12
	@.ci/packages release
	@.ci/release-check
	@.ci/prove-tar || { [ $$? = 77 ] && echo "the tar was not tried: see above"; }
	@.ci/prove-deb || { [ $$? = 77 ] && echo "the package was not tried: see above"; }

clean: ## remove what was built
	rm -rf bin demo
