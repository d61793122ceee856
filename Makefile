# Two commands do everything: make run, make test.
# The rest is for those who change the code; see DEVELOPERS.md.

BIN  := bin/gaugebook
DATA := data/demo
ADDR := 127.0.0.1:8180

.PHONY: run build test check fuzz bench clean

run: build
	$(BIN) demo --data $(DATA) --listen $(ADDR)
	$(BIN) serve --data $(DATA) --listen $(ADDR)

build:
	go build -o $(BIN) ./cmd/gaugebook

test: check
	go run gotest.tools/gotestsum@v1.13.0 --format pkgname -- -race -timeout 20m ./...

# What must hold before the tests are worth running.
check:
	.ci/packages
	@test -z "$$(gofmt -l cmd server records pdf templates)" || { gofmt -l cmd server records pdf templates; echo 'not gofmt clean'; exit 1; }
	go vet ./...
	go run honnef.co/go/tools/cmd/staticcheck@v0.8.2 ./...

# Each fuzz target for FUZZTIME.
FUZZTIME := 20s
fuzz:
	.ci/fuzz $(FUZZTIME)

bench:
	go test -run '^$$' -bench . ./records/... ./pdf/...

clean:
	rm -rf bin data
