#!/usr/bin/env bash
# The service as its operator sees it, judged by tools that nobody here wrote: its metrics by promtool and by the parser of
# OpenMetrics, its encryption by openssl and curl, and what it does about bad input sent by a program in Python.
set -euo pipefail
cd "$(dirname "$0")/../.."
here=tests/outside/service
. tests/outside/api/tools.sh
started=$SECONDS

need promtool prometheus
need openssl openssl
need curl curl
folder="$tools/service-store"
make_store "$folder"

say "openssl, curl: a certificate of the yard's own authority, and what speaks with it"
(
    cd "$folder"
    openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -keyout ca.key -out ca.pem -days 2 \
        -subj "/CN=Skerry Yard" 2>/dev/null
    openssl req -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -keyout key.pem -out cert.csr -subj "/CN=localhost" 2>/dev/null
    printf 'subjectAltName=DNS:localhost,IP:127.0.0.1\nbasicConstraints=CA:FALSE\n' >names
    openssl x509 -req -in cert.csr -CA ca.pem -CAkey ca.key -CAcreateserial -out cert.pem -days 2 -extfile names 2>/dev/null
)
start_service "$folder" --tls-cert "$folder/cert.pem" --tls-key "$folder/key.pem"
curl --silent --show-error --fail --cacert "$folder/ca.pem" --output "$folder/rules.json" "$url/v1/rules"
if curl --silent --output "$folder/rules.json" "$url/v1/rules"; then
    echo "curl believes a certificate of an authority that it does not know" >&2
    exit 1
fi
for version in tls1_2 tls1_3; do
    openssl s_client -connect "${url#https://}" -CAfile "$folder/ca.pem" -verify_return_error "-$version" </dev/null \
        >"$folder/tls.log" 2>&1 || { cat "$folder/tls.log" >&2; exit 1; }
done
if openssl s_client -connect "${url#https://}" -CAfile "$folder/ca.pem" -tls1_1 -cipher ALL@SECLEVEL=0 </dev/null >"$folder/tls.log" 2>&1; then
    echo "it speaks TLS 1.1" >&2
    exit 1
fi
stop_service

metrics="127.0.0.1:$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')"
start_service "$folder" --log json --metrics-listen "$metrics"
say "bad input from outside: each gets its documented problem, none a 500"
python3 "$here/bad_input.py" "$url" "$folder"

say "promtool, prometheus_client: the metrics after that, in both forms"
curl --silent --show-error --fail --header "Accept: text/plain" "http://$metrics/metrics" >"$folder/metrics.txt"
promtool check metrics <"$folder/metrics.txt"
parser="$(python_tool prometheus-client 0.23.1)/python"
curl --silent --show-error --fail "http://$metrics/metrics" >"$folder/metrics.openmetrics"
"$parser" "$here/openmetrics.py" "$folder/metrics.openmetrics" "$folder/metrics.txt"

say "the log: every line is JSON, and none holds a token"
stop_service
python3 - "$folder" <<'PYTHON'
import json, pathlib, sys
folder = pathlib.Path(sys.argv[1])
lines = [json.loads(line) for line in (folder / "log").read_text().splitlines()]
answered = [line for line in lines if line.get("message") == "answered"]
assert len(answered) > 100, len(answered)
for line in answered:
    missing = {"timestamp", "level", "request_id", "method", "path", "status", "ms", "bytes"} - line.keys()
    assert not missing, (missing, line)
text = (folder / "log").read_text()
for token in folder.glob("*.token"):
    assert token.read_text().strip() not in text, f"{token.name} is in the log"
print(f"   {len(answered)} requests in the log")
PYTHON
say "took $((SECONDS - started)) s"
