#!/usr/bin/env bash
# Compares the head sizes with an open library of CAD parts.
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/ground.sh
build_program
parts="$target/outside/parts"
if [ ! -d "$parts/bd_warehouse" ]; then
    python3 -m venv "$target/outside/head_sizes"
    "$target/outside/head_sizes/bin/pip" install --quiet --no-deps --target "$parts" bd_warehouse==0.4.0
fi
"$program" tables heads --as csv >"$target/outside/heads.csv"
python3 tests/outside/head_sizes.py "$target/outside/heads.csv" "$parts/bd_warehouse/data"
