#!/usr/bin/env bash
# Reads and writes of many at once on a throw-away store, and a stop in the middle of them: every write that was acknowledged is
# in the feed of changes and in the book after a restart, and nothing was answered with a 500.
set -euo pipefail
cd "$(dirname "$0")/../.."
here=tests/outside/api
. "$here/tools.sh"
started=$SECONDS

need wrk wrk
folder="$tools/load-store"
make_store "$folder"
start_service "$folder"
token="$(cat "$folder/read,write.token")"
wrk --threads 2 --connections 16 --duration 12s --timeout 10s --script "$here/load.lua" "$url" -- "$folder" "$token" \
    >"$folder/wrk.log" 2>&1 &
load=$!
sleep 9
if ! stop_service; then
    echo "the service did not end well when it was told to stop under load" >&2
    exit 1
fi
wait "$load"
start_service "$folder"
python3 "$here/load_check.py" "$url" "$folder"
say "took $((SECONDS - started)) s"
