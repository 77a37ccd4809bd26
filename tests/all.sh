#!/usr/bin/env bash
# Installs what the tests need beyond a Rust toolchain, then runs every test.
# On a Debian-like system missing packages are installed with apt-get; elsewhere the script names what it lacks.
set -euo pipefail
cd "$(dirname "$0")/.."

say() { printf '\n== %s (%s s so far)\n' "$*" "$SECONDS"; }

if [ "${1:-}" = one ]; then # all.sh one SCRIPT: what it says comes in one piece, when it has ended
    said="$(mktemp)"
    trap 'rm -f "$said"' EXIT
    code=0
    bash "$2" >"$said" 2>&1 || code=255 # tells xargs to begin no other
    printf '\n== %s (%s s)\n%s\n' "$2" "$SECONDS" "$(cat "$said")"
    exit "$code"
fi

. tests/ground.sh
need cc build-essential
need python3 python3
need node nodejs
need npm npm
python3 -c 'import venv, ensurepip' >/dev/null 2>&1 || install_packages python3-venv

say "format"
cargo fmt --check
say "lints"
cargo clippy --quiet --locked --all-targets -- -D warnings
say "documentation"
RUSTDOCFLAGS="-D warnings" cargo doc --quiet --locked --no-deps --document-private-items

say "tests and outside checks, two at a time: most of them wait for one process"
build_program
# Apart, since the tests build another one in its place, with books in a database.
cp --remove-destination "$program" "$target/outside/clampbook"
export CLAMPBOOK_PROGRAM="$target/outside/clampbook"
# The long ones first; the first runs every test.
first="tests/postgres.sh tests/outside/browser.sh tests/outside/api_requests.sh tests/outside/api.sh"
for check in $first tests/outside/*.sh; do
    echo "$check"
done | awk '!seen[$0]++' | xargs --max-procs=2 --max-args=1 bash tests/all.sh one
say "all passed"
