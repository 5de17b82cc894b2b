#!/usr/bin/env bash
# Runs every test, after installing what the tests need. Says at the end what was skipped and why.
set -euo pipefail
cd "$(dirname "$0")/.."
. deploy/need.sh
need_go
t0=$SECONDS
say() { printf '\n== %s (%d s)\n' "$1" $((SECONDS - t0)); }

say "what the tests need"
# Debian's own Python, for its package does not reach another one that may stand first in PATH.
need_debian '/usr/bin/python3 -c "import scipy.signal"' python3-scipy || true
need_debian "test -f /usr/share/sounds/alsa/Front_Center.wav" alsa-utils || true
need_debian '/usr/bin/python3 -c "import pandas"' python3-pandas || true # it reads exports back
need_debian "command -v chromium" chromium || true # for pages, reports and captions
need_debian "command -v ffmpeg" ffmpeg || true     # cameras' codecs, a clip to caption
[ -z "${QUERN_WHOLE:-}" ] || need_debian "command -v soffice" libreoffice-calc || true # the spreadsheet, some 220 MB
need_debian "command -v gcc && echo '#include <stdlib.h>' | gcc -E -" "gcc libc6-dev" || true # for the race detector only

say "the scripts of the pages: types, and their weight"
web=yes
deploy/web.sh --tests || web=

say "gofmt"
unformatted=$(gofmt -l cmd rig acquire detect config)
[ -z "$unformatted" ] || { echo "not formatted: $unformatted"; exit 1; }
say "go vet"
go vet ./...
say "staticcheck"
go tool staticcheck ./...

say "the program builds for the Pi, without cgo"
for arch in arm64 ${QUERN_WHOLE:+arm}; do CGO_ENABLED=0 GOOS=linux GOARCH=$arch go build -o /dev/null ./cmd/quern; done

say "tests"
log=$(mktemp)
trap 'rm -f "$log"' EXIT
# What a test said stands below "=== RUN" or "=== NAME"; verdicts on parts of a test come after all of them.
told() { # VERDICT: what each test with it said, then the test
	awk -v verdict="$1:" '
		/^=== / { test = $3; next }
		/^ *--- / { if ($2 == verdict) printf "%s%s\n", said[$3], $0; delete said[$3]; test = ""; next }
		/^panic:/, /^FAIL/ { if (verdict == "FAIL:") print; next }
		test != "" { said[test] = said[test] $0 "\n" }' "$log"
}
if ! go test -vet=off -v ./... >"$log" 2>&1; then # vetted above
	told FAIL
	grep -E '^(FAIL|#|.*\.go:[0-9]+:[0-9]+:)' "$log" || true # packages that failed or did not build
	exit 1
fi
grep -E '^(ok|\?)' "$log"

say "tests under the race detector, of what starts goroutines"
if command -v gcc >/dev/null; then
	# What only computes, for whoever calls it, is left as it is: it would run ten times slower. The fold itself, quern/detect,
	# is watched: two goroutines in one analysis would meet there.
	raced=(-vet=off -race -short)
	for plain in quern/acquire/sim quern/detect/sound quern/detect/motor quern/detect/run; do
		# The linker keeps one copy of what is generic, like the inside of sync.Map. From a package left as it is that copy would
		# be unwatched, and races be told where there are none.
		if go list -f '{{join .Imports "\n"}}' "$plain" | grep -E '^sync(/|$)'; then
			echo "$plain: it uses sync, so it cannot be left out of the race detector; take it from this list"
			exit 1
		fi
		raced+=("-gcflags=$plain=-race=false")
	done
	# shellcheck disable=SC2046 # names of packages are words
	CGO_ENABLED=1 go test "${raced[@]}" $(go list ./... | grep -E '^quern/(acquire|rig/(live|session|report/series))' |
		grep -vE '/(sim|recording|frame|devices|session|replay|recorded|guide|web)$')
	CGO_ENABLED=1 go test "${raced[@]}" -run 'Daemon|TLS|Front|Kill|Viewers' ./cmd/quern # the rest is one goroutine
else
	echo "skipped: no C compiler"
fi

say "the pages in a browser"
if [ -n "$web" ] && command -v chromium >/dev/null; then
	built=$(mktemp -d)
	trap 'rm -rf "$log" "$built"' EXIT
	go build -o "$built/quern" ./cmd/quern
	pages=(operator)
	[ -z "${QUERN_WHOLE:-}" ] || pages+=(record report day)
	(cd rig/live/web/test && QUERN=$built/quern node --test --test-concurrency=1 "${pages[@]/%/.test.mjs}")
	[ -n "${QUERN_WHOLE:-}" ] || echo "skipped: lists, review, standings, reports, and a page open for a day: QUERN_WHOLE=1 deploy/test.sh runs them"
else
	echo "skipped: no node, or no chromium"
fi

say "skipped"
told SKIP
passed=$(grep -cE '^\s*--- PASS' "$log" || true)
skipped=$(grep -cE '^\s*--- SKIP' "$log" || true)
say "done"
echo "$passed passed, 0 failed, $skipped skipped"
