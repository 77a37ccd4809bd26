#!/usr/bin/env bash
# The HTTP API judged by tools that nobody here wrote: validators of the document, a tester that makes requests from it,
# and clients generated from it. Each tool has a pinned version and an environment of its own below the target folder.
set -euo pipefail
cd "$(dirname "$0")/../.."
here=tests/outside/api
. "$here/tools.sh"
started=$SECONDS

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

say "openapi-python-client: a generated client looks up, creates, changes on condition, takes in tables and lines"
generator="$(python_tool openapi-python-client 0.29.1)"
rm -rf "$tools/client"
# What this generator writes for a body that may be a list or an object does not run, so its clients change by merge patches.
python3 - "$document" >"$tools/client.json" <<'PYTHON'
import json, sys
document = json.load(open(sys.argv[1]))
for item in document["paths"].values():
    for operation in item.values():
        operation.get("requestBody", {}).get("content", {}).pop("application/json-patch+json", None)
json.dump(document, sys.stdout)
PYTHON
"$generator/openapi-python-client" generate --path "$tools/client.json" --config "$here/client.yaml" --output-path "$tools/client" \
    --fail-on-warning --meta none >"$tools/client.log" 2>&1 || { cat "$tools/client.log" >&2; exit 1; }
make_store "$tools/client-store"
start_service "$tools/client-store"
PYTHONPATH="$tools" "$generator/python" "$here/use_client.py" "$url" "$(cat "$tools/client-store/read,write.token")"

say "frictionless: every table is what the Table Schema says that is served beside it"
frictionless="$(python_tool frictionless 5.21.0)/frictionless"
for what in fasteners joints records; do
    for file in "$what.csv" "$what.schema.json"; do
        curl --silent --show-error --fail --output "$tools/client-store/$file" "$url/v1/exports/$file"
    done
    # It takes paths below the folder it runs in.
    (cd "$tools/client-store" && "$frictionless" validate "$what.csv" --schema "$what.schema.json") \
        >"$tools/$what.log" 2>&1 || { cat "$tools/$what.log" >&2; exit 1; }
done
# What is wrong must be found: a head that no list has, an id twice.
sed '2s/,hexagon[a-z-]*,/,hexagonal,/; $p' "$tools/client-store/fasteners.csv" >"$tools/client-store/wrong.csv"
if (cd "$tools/client-store" && "$frictionless" validate wrong.csv --schema fasteners.schema.json) >"$tools/wrong.log" 2>&1 ||
    ! grep -q constraint-error "$tools/wrong.log" || ! grep -q primary-key "$tools/wrong.log"; then
    cat "$tools/wrong.log" >&2
    exit 1
fi

say "openapi-typescript: a typed client compiles strictly"
typed="$(node_tool api-typescript openapi-typescript@7.13.0 typescript@5.9.3)"
"$typed/openapi-typescript" "$document" --output "$tools/api-typescript/clampbook.ts" >"$tools/typescript.log" 2>&1 ||
    { cat "$tools/typescript.log" >&2; exit 1; }
cp "$here/use_types.ts" "$tools/api-typescript/"
"$typed/tsc" --strict --noEmit --target es2022 --module es2022 --moduleResolution bundler --lib es2022,dom \
    --exactOptionalPropertyTypes --noUncheckedIndexedAccess "$tools/api-typescript/use_types.ts"
say "took $((SECONDS - started)) s"
