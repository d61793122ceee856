# Two commands do everything: make run, make test.
# The rest is for those who change the code; see DEVELOPERS.md.

BIN  := bin/gaugebook
DATA := data/demo
ADDR := 127.0.0.1:8180

.PHONY: run build test test-all check packages tests fuzz bench torture release clean

run: build
	@echo 'Filling the demo register, unless there is one: some seconds.'
	$(BIN) demo --data $(DATA) --listen $(ADDR)
	$(BIN) serve --data $(DATA) --listen $(ADDR)

build:
	@echo 'Building. The first time takes a minute or two, most of it for SQLite; then it is a matter of seconds.'
	go build -o $(BIN) ./cmd/gaugebook

# SQLite is one large C file: without debug information for it, compiling takes
# two thirds of the time and queries are as fast (see DEVELOPERS.md).
export CGO_CFLAGS := -O2 -g0

# The Go release that go.mod names comes by itself, through the module proxy, on
# a machine that has another one, also where that is switched off.
export GOTOOLCHAIN := auto

GOTESTSUM := go run gotest.tools/gotestsum@v1.13.0 --format pkgname --format-hide-empty-pkg --raw-command --

# The checks and the tests run side by side: each alone leaves a core idle for a
# part of its time. What all of them need is built before.
test: packages
	@go build ./...
	@$(MAKE) --no-print-directory -j2 check tests

tests: packages
	$(GOTESTSUM) .ci/tests

# What make test leaves out: the race detector everywhere, long property tests, a
# while of fuzzing, whether what is known to be vulnerable is called, and a release.
test-all: packages check
	.ci/vulnerabilities called
	.ci/release
	.ci/fuzz 10s
	$(GOTESTSUM) .ci/tests all

# The programs that the tests read results back with.
packages:
	@.ci/packages

# What must hold beside the tests.
check:
	@test -z "$$(gofmt -l cmd server records pdf templates)" || { gofmt -l cmd server records pdf templates; echo 'not gofmt clean'; exit 1; }
	go vet ./...
	go run honnef.co/go/tools/cmd/staticcheck@v0.8.2 ./...
	.ci/deadcode
	.ci/vulnerabilities

# Each fuzz target for FUZZTIME.
FUZZTIME := 20s
fuzz:
	.ci/fuzz $(FUZZTIME)

# Kills the server KILLS times while eight clients work with it, fills its disk and
# puts its clock back; the small disk needs root. Half an hour or more.
KILLS := 500
torture: packages
	go vet -tags torture ./cmd/gaugebook
	go test -tags torture -run '^TestTorture' -count 1 -v -timeout 3h ./cmd/gaugebook -kills $(KILLS)

bench:
	go test -run '^$$' -bench . ./records/... ./pdf/...

# Program, container image and checksums in dist: make release VERSION=1.2.0
release:
	go run ./cmd/release -version "$(VERSION)"

clean:
	rm -rf bin data dist
