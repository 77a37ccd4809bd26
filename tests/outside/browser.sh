#!/usr/bin/env bash
# The bench page in Debian's Chromium, and its markup as two validators see it. Needs no network but for installing:
# chromium and a Java runtime with apt-get, the rest with npm, pinned, in a folder below the target folder.
# Pictures of every page, the PDFs and the pages as sent are kept below the target folder, to look at.
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/ground.sh
tools="$target/outside/browser-tools"
work="$(mktemp -d)"
pids=()
end() { # a service that stops still writes into its store: its folder goes when it is gone
    [ "${#pids[@]}" = 0 ] || kill "${pids[@]}" 2>/dev/null || true
    wait
    rm -rf "$work"
}
trap end EXIT

say() { printf '   %s\n' "$*"; }

need chromium chromium
need java default-jre-headless
need npm nodejs npm

wanted="playwright-core@1.65.1 @axe-core/playwright@4.14.0 vnu-jar@26.9.27 html-validate@10.17.0"
if [ ! -e "$tools/.done" ] || [ "$(cat "$tools/.done")" != "$wanted" ]; then
    rm -rf "$tools"
    mkdir -p "$tools"
    # shellcheck disable=SC2086
    (cd "$tools" && npm init --yes >/dev/null && npm install --silent --no-audit --no-fund --save-exact $wanted)
    echo "$wanted" >"$tools/.done"
fi

build_program
"$program" --store "$work/yard" import seed/skua.*.json >/dev/null
"$program" --store "$work/slips" import seed/slips.json >/dev/null
"$program" --store "$work/yard" card skua.diesel.cylinder-head -o "$work/card.html"

address=""
serve() { # serve STORE: starts a service and sets address to where it listens
    "$program" --store "$work/$1" serve --open --listen 127.0.0.1:0 >"$work/$1.out" 2>"$work/$1.err" &
    pids+=("$!")
    for _ in $(seq 100); do
        address="$(sed -n 's/^listening on //p' "$work/$1.out")"
        [ -z "$address" ] || return 0
        sleep 0.1
    done
    cat "$work/$1.err" >&2
    return 1
}
serve yard
BENCH_YARD="$address"
serve slips
BENCH_SLIPS="$address"
export BENCH_YARD BENCH_SLIPS
export BROWSER_TOOLS="$tools" BENCH_PICTURES="$target/outside/browser" BENCH_CARD_FILE="$work/card.html"
export CHROMIUM="${CHROMIUM:-$(command -v chromium)}"
rm -rf "$BENCH_PICTURES"
start=$SECONDS
node tests/browser/run.mjs
say "in $((SECONDS - start)) s; pictures in $BENCH_PICTURES"
