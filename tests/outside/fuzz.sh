#!/usr/bin/env bash
# Fuzzes every decoder of stored and imported bytes for a bounded time, where cargo-fuzz and a nightly toolchain are
# there. Building the whole program for it takes minutes, so that it only runs where it was asked for
# (CLAMPBOOK_FUZZ=1) or where it has been built before; elsewhere the bounded run of the same bodies on the stable
# toolchain, the test "fuzz", is what ran.
set -euo pipefail
cd "$(dirname "$0")/../fuzz"

seconds="${CLAMPBOOK_FUZZ_SECONDS:-10}" # for each target
export CARGO_TARGET_DIR="${CARGO_TARGET_DIR:-$PWD/../../target}/fuzz"

if [ "${CLAMPBOOK_FUZZ:-0}" != 1 ] && [ ! -e "$CARGO_TARGET_DIR/built" ]; then
    echo "not asked for (CLAMPBOOK_FUZZ=1): the test \"fuzz\" has tried the same bodies on the stable toolchain"
    exit 0
fi
if ! cargo +nightly --version >/dev/null 2>&1; then
    echo "no nightly toolchain is installed (rustup toolchain install nightly)" >&2
    exit 1
fi
export PATH="$CARGO_TARGET_DIR/tools/bin:$PATH"
command -v cargo-fuzz >/dev/null 2>&1 || cargo install --quiet --locked --root "$CARGO_TARGET_DIR/tools" cargo-fuzz --version 0.13.1
cargo +nightly fuzz build --fuzz-dir . --sanitizer none
touch "$CARGO_TARGET_DIR/built"
for target in targets/*.rs; do
    name=$(basename "$target" .rs)
    mkdir -p "$CARGO_TARGET_DIR/corpus/$name"
    echo "$name: $seconds s"
    cargo +nightly fuzz run --fuzz-dir . --sanitizer none "$name" "$CARGO_TARGET_DIR/corpus/$name" -- \
        -max_total_time="$seconds" -max_len=8192 -artifact_prefix="$CARGO_TARGET_DIR/" -print_final_stats=1 2>&1 | tail -3
done
