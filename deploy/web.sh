#!/usr/bin/env bash
# Builds the scripts and styles of the daemon's pages into rig/live/web/dist, from where `go build` takes them.
# Quick when nothing has changed.
#
#   deploy/web.sh [--tests]      --tests: also installs what the tests in a browser need
set -euo pipefail
cd "$(dirname "$0")/.."
. deploy/need.sh
need_debian "command -v node && command -v npm" "nodejs npm" || {
	echo "web: without node and npm the pages have no scripts; they still show state, results and standings" >&2
	exit 1
}
cd rig/live/web
omit=--omit=dev
[ "${1:-}" = --tests ] && omit=
# What lies in node_modules is what package-lock.json says, or it is installed again.
have=node_modules/.installed
want=$(sha256sum <package-lock.json)
if [ ! -e "$have" ] || ! grep -qxF "$want" "$have" || { [ -z "$omit" ] && ! grep -qx tests "$have"; }; then
	# shellcheck disable=SC2086 # empty is no word
	npm ci --ignore-scripts --no-audit --no-fund --loglevel=error $omit
	printf "%s\n" "$want" "$([ -n "$omit" ] || echo tests)" >"$have"
fi
if compgen -G 'src/*.ts' >/dev/null; then npx --no-install tsc --noEmit -p tsconfig.json; fi
node build.mjs
