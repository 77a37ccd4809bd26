#!/usr/bin/env bash
# Requests made from the document of the API, good ones and bad ones, to a service on a throw-away store: no 500, nothing
# undocumented, bad input refused, good input taken. With a token for each scope; at least 5,000 requests in all.
set -euo pipefail
cd "$(dirname "$0")/../.."
here=tests/outside/api
. "$here/tools.sh"
started=$SECONDS

tester="$(python_tool schemathesis 4.32.5)/schemathesis"
make_store "$tools/requests-store"
start_service "$tools/requests-store"

requests() { # requests SCOPES OPTION...: runs the tester with a token for these scopes
    local token
    token="$(cat "$tools/requests-store/$1.token")"
    shift
    if ! (
        export SCHEMATHESIS_HOOKS="$PWD/$here/checks.py"
        # Run below the target folder, since the tester leaves files where it runs.
        cd "$tools/requests-store" && "$tester" --config-file "$OLDPWD/$here/schemathesis.toml" run "$url/openapi.json" \
            --header "Authorization: Bearer $token" "$@"
    ) >"$tools/requests.log" 2>&1; then
        cat "$tools/requests.log" >&2
        exit 1
    fi
    count="$(sed -n 's/^ *\([0-9]*\) generated,.*/\1/p' "$tools/requests.log")"
    say "schemathesis: $count requests, no failure"
}

requests read,write --max-examples 10
total=$count
for scope in read write check admin; do
    requests "$scope" --phases examples,fuzzing --max-examples 3
    total=$((total + count))
done
[ "$total" -ge 5000 ] || { echo "only $total requests were made" >&2; exit 1; }
curl --silent --show-error --fail "$url/health/ready" >/dev/null
say "took $((SECONDS - started)) s"
