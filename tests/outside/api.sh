#!/usr/bin/env bash
# The HTTP API judged by tools that nobody here wrote: validators of the document, a tester that makes requests from it,
# and clients generated from it. Each tool has a pinned version and an environment of its own below the target folder.
set -euo pipefail
cd "$(dirname "$0")/../.."
here=tests/outside/api
tools="$(realpath -m "${CARGO_TARGET_DIR:-target}")/outside"
document=openapi/clampbook.json
mkdir -p "$tools"

say() { printf '   %s\n' "$*"; }

python_tool() { # python_tool PACKAGE VERSION: an environment with just this
    local home="$tools/$1-$2"
    if [ ! -e "$home/.done" ]; then
        rm -rf "$home"
        python3 -m venv "$home"
        "$home/bin/pip" install --quiet --disable-pip-version-check "$1==$2"
        touch "$home/.done"
    fi
    echo "$home/bin"
}

node_tool() { # node_tool NAME PACKAGE...: a folder with just these
    local home="$tools/$1"
    shift
    if [ ! -e "$home/.done" ] || [ "$(cat "$home/.done")" != "$*" ]; then
        rm -rf "$home"
        mkdir -p "$home"
        (cd "$home" && npm init --yes >/dev/null && npm install --silent --no-audit --no-fund "$@")
        echo "$*" >"$home/.done"
    fi
    echo "$home/node_modules/.bin"
}

say "openapi-spec-validator: the document is valid OpenAPI 3.1"
"$(python_tool openapi-spec-validator 0.9.0)/openapi-spec-validator" "$document"

lint="$(node_tool api-lint @stoplight/spectral-cli@6.16.3 @redocly/cli@2.77.0)"
say "spectral: no warning"
"$lint/spectral" lint --quiet --ruleset "$here/spectral.yaml" --fail-severity=hint "$document"
say "redocly: no warning"
if ! REDOCLY_TELEMETRY=off REDOCLY_SUPPRESS_UPDATE_NOTICE=true "$lint/redocly" lint --config "$here/redocly.yaml" \
    "$document" >"$tools/redocly.log" 2>&1; then
    cat "$tools/redocly.log" >&2
    exit 1
fi
grep "validated in" "$tools/redocly.log"
