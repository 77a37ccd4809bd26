#!/usr/bin/env bash
# Fuzzes every decoder of stored and imported bytes for a bounded time: the bodies of tests/fuzz under cargo-fuzz, with
# coverage. The first run builds the crate once more, which takes minutes, so that it runs only where it is asked for
# (CLAMPBOOK_FUZZ=1). What is found is kept below the target folder, and the bytes that were worth keeping begin the next run.
set -euo pipefail
cd "$(dirname "$0")/../fuzz"
started=$SECONDS

if [ "${CLAMPBOOK_FUZZ:-0}" != 1 ]; then
    echo "not asked for (CLAMPBOOK_FUZZ=1): the test \"fuzz\" has tried the same bodies without coverage"
    exit 0
fi
seconds="${CLAMPBOOK_FUZZ_SECONDS:-7}" # for each target
export CARGO_TARGET_DIR="${CARGO_TARGET_DIR:-$PWD/../../target}/fuzz"
# Coverage needs flags that the compiler takes from a nightly toolchain, or from this one when it is told so.
export RUSTC_BOOTSTRAP=1
version=0.13.1
export PATH="$CARGO_TARGET_DIR/tools/bin:$PATH"
if ! cargo fuzz --version 2>/dev/null | grep -q " $version$"; then
    env -u RUSTC_BOOTSTRAP cargo install --quiet --locked --debug --root "$CARGO_TARGET_DIR/tools" \
        --target-dir "$CARGO_TARGET_DIR/tools.build" cargo-fuzz --version "$version"
    rm -rf "$CARGO_TARGET_DIR/tools.build"
fi
cargo fuzz build --fuzz-dir . --dev --sanitizer none
for target in targets/*.rs; do
    name=$(basename "$target" .rs)
    corpus="$CARGO_TARGET_DIR/corpus/$name"
    log="$CARGO_TARGET_DIR/$name.log"
    mkdir -p "$corpus"
    if ! cargo fuzz run --fuzz-dir . --dev --sanitizer none "$name" "$corpus" -- -max_total_time="$seconds" \
        -max_len=8192 -artifact_prefix="$CARGO_TARGET_DIR/$name-" -print_final_stats=1 >"$log" 2>&1; then
        tail -40 "$log" >&2
        echo "$name: a fault was found; the bytes lie in $CARGO_TARGET_DIR" >&2
        exit 1
    fi
    runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$log")
    [ "${runs:-0}" -ge 100 ] || { echo "$name: only ${runs:-0} runs: that is no fuzzing" >&2; exit 1; }
    echo "   $name: $runs runs in $seconds s, $(find "$corpus" -type f | wc -l) kept"
done
echo "   took $((SECONDS - started)) s"
