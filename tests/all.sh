#!/usr/bin/env bash
# Installs what the tests need beyond a Rust toolchain, then runs every test.
# On a Debian-like system missing packages are installed with apt-get; elsewhere the script names what it lacks.
set -euo pipefail
cd "$(dirname "$0")/.."

say() { printf '\n== %s\n' "$*"; }

need() { # need COMMAND PACKAGE: installs the package if the command is not there
    command -v "$1" >/dev/null 2>&1 && return
    missing+=("$2")
}

missing=()
need cc build-essential
need python3 python3
need node nodejs
need npm npm
python3 -c 'import venv, ensurepip' >/dev/null 2>&1 || missing+=(python3-venv)
if [ "${#missing[@]}" -gt 0 ]; then
    if command -v apt-get >/dev/null 2>&1; then
        say "installing ${missing[*]}"
        as_root=""
        [ "$(id -u)" = 0 ] || as_root=sudo
        $as_root apt-get update -qq
        DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -qq --no-install-recommends "${missing[@]}"
    else
        echo "Please install: ${missing[*]}" >&2
        exit 1
    fi
fi

say "format"
cargo fmt --check
say "lints"
cargo clippy --quiet --locked --all-targets -- -D warnings
say "tests"
cargo test --quiet --locked
say "documentation"
RUSTDOCFLAGS="-D warnings" cargo doc --quiet --locked --no-deps --document-private-items

for check in tests/outside/*.sh; do
    [ -e "$check" ] || continue
    say "$check"
    bash "$check"
done
say "all passed"
