# Sourced by the scripts beside it: what each needs on a fresh Debian machine with Go.

# as_root runs a command as root, by sudo where that is needed.
as_root() {
	if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi
}

# need_debian PROBE PACKAGES: installs Debian packages unless PROBE already succeeds.
need_debian() {
	if sh -c "$1" >/dev/null 2>&1; then return 0; fi
	if ! command -v apt-get >/dev/null; then
		echo "need: $2 is missing and this is no Debian machine; what needs it is skipped" >&2
		return 1
	fi
	if [ -z "${APT_FRESH:-}" ]; then
		as_root apt-get update -qq || return 1
		APT_FRESH=1
	fi
	# shellcheck disable=SC2086 # several packages are several words
	DEBIAN_FRONTEND=noninteractive as_root apt-get install -y -qq --no-install-recommends $2 >/dev/null || {
		echo "need: $2 could not be installed; what needs it is skipped" >&2
		return 1
	}
}

# need_go: finds Go, also where the usual install puts it.
need_go() {
	if ! command -v go >/dev/null && [ -x /usr/local/go/bin/go ]; then PATH=$PATH:/usr/local/go/bin; fi
	command -v go >/dev/null || {
		echo "need: Go is not installed; see https://go.dev/doc/install" >&2
		exit 1
	}
}
