# Two commands do all the set-up on a fresh Debian or Ubuntu with Go and Node:
#   make demo   builds the program and opens the invented demo notebook
#   make test   installs what the tests need by apt and runs them all
# Everything works from a path with a space in it: recipes use relative paths.

SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := build

# Debian packages that the tests need, and nothing else does.
TEST_PACKAGES := chromium postgresql calculix-ccx python3-scipy poppler-utils strace fonts-dejavu-core libheif-examples libnss3-tools

.PHONY: build demo test check bench drills bars fuzz numbers errshare golden web test-packages clean

## build: the page bundle and the program, ./tautline
build: web
	go build -ldflags='-s -w' -o tautline .

## web: the page bundle in web/dist (npm ci only when the lock file is newer)
web: web/node_modules/.installed
	go run ./web/build

web/node_modules/.installed: web/package.json web/package-lock.json
	cd web && npm ci --no-audit --no-fund --loglevel=error
	touch "$@"

## demo: build, then serve the invented demo notebook on this machine
demo: build
	./tautline demo

## test: install what the tests need, then run everything
test: test-packages check
	go test -timeout 30m ./...

## check: format, types of the pages, vet, staticcheck and the import directions
check: web
	@test -z "$$(gofmt -l $$(git ls-files '*.go'))" || { echo 'not formatted (gofmt -w):'; gofmt -l $$(git ls-files '*.go'); exit 1; }
	cd web && npx --no-install tsc --noEmit
	go mod verify
	go vet ./...
	go tool staticcheck ./...
	go test -count=1 -run 'TestImport' .

## bench: how fast the things that must be fast are
bench:
	go test -run '^$$' -bench . -benchmem ./...

## drills: what bad days do to a notebook, at full length (docs/drills.md); SEED=7 SCALE=0.1 DRILLS="D1 D2"
SEED ?= 1
SCALE ?= 1
drills: test-packages web
	go run ./internal/drill/run -seed $(SEED) -scale $(SCALE) $(DRILLS)
	@if [ -z "$(DRILLS)" ]; then n=$$(awk 'BEGIN { print int(1000 * $(SCALE)) + 1 }'); OFFLINE_SEED=$(SEED) OFFLINE_SESSIONS=$$n go test ./internal/e2e -run 'TestOfflineSessions|TestOutboxSessions' -v -timeout 12h; PHOTOS=$$(awk 'BEGIN { print int(200 * $(SCALE)) + 6 }') go test ./web/build -run TestPhotoOfAFace -v -timeout 12h; fi

## bars: the drills with bars of time, for a machine with nothing else to do (a quarter of an hour); SOAK=1h goes on for an hour at the usual pace
bars: test-packages web
	TAUTLINE_QUIET=1 TAUTLINE_SOAK=$(SOAK) go run ./internal/drill/run -seed $(SEED) D10
	TAUTLINE_QUIET=1 go run ./internal/drill/run -seed $(SEED) -scale 0.05 D2 D5

## fuzz: every fuzz target for ten minutes, executions counted; FUZZTIME=1m
FUZZTIME ?= 10m
fuzz:
	go run ./internal/drill/fuzz -time $(FUZZTIME) $(TARGETS)

## numbers: edge and random values into every function that computes, a million into each cheap one, and vet for the other kind of processor (27 minutes at most on two quiet cores; T26)
numbers:
	GOARCH=arm64 go vet ./...
	TAUTLINE_LONG=1 go test ./internal/edge -run TestNothingUndefinedComesOut -count=1 -timeout 40m -v 2>&1 | grep --line-buffered -Ev '^ *(===|--- PASS)'

## errshare: how many statements behind "if err != nil" the tests of a package run, and which they do not; PACKAGE=internal/server
PACKAGE ?= internal/store
errshare:
	go test -coverprofile=errshare.out -coverpkg=./$(PACKAGE) ./$(PACKAGE)
	go run ./internal/errshare errshare.out
	rm errshare.out

## golden: write the tables of the docs and the golden files anew (some minutes: two hundred random bows are fitted)
golden:
	TAUTLINE_LONG=1 go test $$(git grep -l 'flag.Bool("update"' -- '*_test.go' | xargs -n1 dirname | sort -u | sed 's|^|./|') -run Golden -update -timeout 60m

## sbom: what is in the built program, as CycloneDX, with every licence's words
sbom: build
	go run ./internal/supply/sbom tautline > tautline.cdx.json

# What only computes is watched in the workbench's own tests; in the server's it would take nine tenths of the time.
COMPUTES := num unit bow arrow shot flight group trial

## race: the tests of what works in parallel, under the race detector (an hour and a half on two cores)
race: test-packages
	go test -race -timeout 90m ./internal/store/... ./notebook ./workbench
	go test -race $(foreach p,$(COMPUTES),-gcflags=tautline/$(p)=-race=false) -timeout 90m ./internal/server -mutations 20

## portable: it compiles for the machines we do not test on
portable:
	GOARCH=arm64 go vet ./...
	GOOS=darwin GOARCH=arm64 go build ./...
	GOOS=windows go build ./...

# apt only when something is missing, through sudo when not root.
test-packages:
	@missing=""; for p in $(TEST_PACKAGES); do dpkg -s "$$p" >/dev/null 2>&1 || missing="$$missing $$p"; done; \
	if [ -n "$$missing" ]; then \
	  sudo=""; [ "$$(id -u)" = 0 ] || sudo=sudo; \
	  echo "installing for the tests:$$missing"; \
	  $$sudo apt-get update -q; \
	  $$sudo env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $$missing; \
	fi

clean:
	rm -rf tautline tautline.cdx.json web/dist/* web/node_modules
