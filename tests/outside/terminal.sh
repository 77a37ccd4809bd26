#!/usr/bin/env bash
# What stands between people and the program: the manual pages as a reader of manuals takes them, the completions as shells read
# them, and commands on a real terminal: colour, width, the progress line, Ctrl-C and a reader that goes away.
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/outside/api/tools.sh
started=$SECONDS

need mandoc mandoc
need zsh zsh
need fish fish
folder="$tools/terminal"
rm -rf "$folder"
mkdir -p "$folder"
build_program

clampbook man --output "$folder/man" 2>/dev/null
mandoc -T lint -W warning "$folder"/man/*.1
say "$(find "$folder/man" -name '*.1' | wc -l) manual pages without a warning"
for shell in bash zsh fish; do
    clampbook completions "$shell" >"$folder/completions.$shell"
    "$shell" -n "$folder/completions.$shell"
done
say "completions are read by bash, zsh and fish"
clampbook --store "$folder/book" import seed/skua*.json >/dev/null
python3 tests/outside/terminal.py "$program" "$folder"
say "took $((SECONDS - started)) s"
