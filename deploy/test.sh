#!/usr/bin/env bash
# Runs every test, after installing what the tests need. Says at the end what was skipped and why.
set -euo pipefail
cd "$(dirname "$0")/.."
. deploy/need.sh
need_go
t0=$SECONDS
say() { printf '\n== %s (%d s)\n' "$1" $((SECONDS - t0)); }

say "what the tests need"
need_debian "python3 -c 'import scipy.signal'" python3-scipy || true
need_debian "test -f /usr/share/sounds/alsa/Front_Center.wav" alsa-utils || true
need_debian "command -v gcc" gcc || true # the race detector needs a C compiler; the program itself does not

say "gofmt"
unformatted=$(gofmt -l cmd rig acquire detect config)
[ -z "$unformatted" ] || { echo "not formatted: $unformatted"; exit 1; }
say "go vet"
go vet ./...
say "staticcheck"
go tool staticcheck ./...

say "the program builds for the Pi, without cgo"
for arch in arm64 arm; do CGO_ENABLED=0 GOOS=linux GOARCH=$arch go build -o /dev/null ./cmd/quern; done

say "tests"
log=$(mktemp)
trap 'rm -f "$log"' EXIT
go test -v ./... >"$log" 2>&1 || { grep -E '^(---|\s+---) FAIL|^FAIL|panic:|_test.go:' "$log" | tail -n 80; exit 1; }
grep -E '^(ok|FAIL|\?)' "$log"

say "tests under the race detector"
if command -v gcc >/dev/null; then
	CGO_ENABLED=1 go test -race -short ./...
else
	echo "skipped: no C compiler"
fi

say "skipped"
grep -A2 -E '^\s*--- SKIP' "$log" | grep -vE '^--$' || echo "nothing"
passed=$(grep -cE '^\s*--- PASS' "$log" || true)
skipped=$(grep -cE '^\s*--- SKIP' "$log" || true)
say "done"
echo "$passed passed, 0 failed, $skipped skipped"
