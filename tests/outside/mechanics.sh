#!/usr/bin/env bash
# Compares the mechanics with scipy and pint.
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/ground.sh
build_program
environment="$target/outside/mechanics"
# The mark comes last: what an installation that broke off has left is made anew.
if [ ! -e "$environment/.done" ]; then
    rm -rf "$environment"
    python3 -m venv "$environment"
    "$environment/bin/pip" install --quiet scipy==1.17.1 numpy==2.4.6 Pint==0.25.3
    touch "$environment/.done"
fi
"$environment/bin/python" tests/outside/mechanics.py "$program"
