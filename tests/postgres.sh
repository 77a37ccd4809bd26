#!/usr/bin/env bash
# Books in PostgreSQL: installs Debian's `postgresql` if it is missing, starts a server on the loopback device as a user
# without rights, and runs every test with it, those of the database among them, or the command that it is given. Tests
# that break servers start and end their own, in the same folder.
set -euo pipefail
cd "$(dirname "$0")/.."
. tests/ground.sh

programs() { ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -V | tail -1; }
[ -n "$(programs)" ] || install_packages postgresql
need openssl openssl
programs=$(programs)
"$programs/postgres" --version

folder=$(mktemp -d "$target/postgres.XXXXXX")
user=""
if [ "$(id -u)" = 0 ]; then
    user=postgres
    chmod 755 "$folder"
    if ! runuser -u "$user" -- test -x "$folder"; then
        rmdir "$folder"
        folder=$(mktemp -d /tmp/clampbook-postgres.XXXXXX)
        chmod 755 "$folder"
    fi
    chown "$user" "$folder"
fi
as_user() { if [ -n "$user" ]; then (cd / && runuser -u "$user" -- "$@"); else "$@"; fi; }

end() { # ends every server whose folder is in ours, by the process id that it has written there
    local file pid
    for file in "$folder"/*/postmaster.pid; do
        [ -e "$file" ] || continue
        pid=$(head -1 "$file")
        kill -QUIT "$pid" 2>/dev/null || continue
        for _ in $(seq 50); do kill -0 "$pid" 2>/dev/null || break; sleep 0.1; done
    done
    rm -rf "$folder"
}
trap end EXIT

# A certificate authority of our own, and what it says of this server.
mkdir "$folder/tls"
(
    cd "$folder/tls"
    openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -keyout ca.key -out ca.pem -days 2 \
        -subj "/CN=Skerry Yard" 2>/dev/null
    openssl req -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -keyout server.key -out server.csr \
        -subj "/CN=localhost" 2>/dev/null
    printf 'subjectAltName=DNS:localhost,IP:127.0.0.1\nbasicConstraints=CA:FALSE\n' > names
    openssl x509 -req -in server.csr -CA ca.pem -CAkey ca.key -CAcreateserial -out server.pem -days 2 -extfile names 2>/dev/null
    chmod 600 server.key
)
[ -z "$user" ] || chown -R "$user" "$folder/tls"

port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
data=$folder/main
as_user "$programs/initdb" -D "$data" -A trust -U owner -E UTF8 --locale C --no-sync >/dev/null
{
    echo "host all locked 127.0.0.1/32 scram-sha-256"
    echo "host all all 127.0.0.1/32 trust"
    echo "host replication all 127.0.0.1/32 trust"
} | as_user tee "$data/pg_hba.conf" >/dev/null
# What a loss of power would lose is not tested on this server: the tests that kill servers start their own. What is
# measured on it, by a command given to this script, is measured with every write made to last.
fsync=off
[ "$#" = 0 ] || fsync=on
as_user "$programs/pg_ctl" -D "$data" -s -w -l "$folder/main.log" -o "-c listen_addresses=127.0.0.1 -c port=$port \
    -c unix_socket_directories= -c fsync=$fsync -c max_connections=200 -c ssl=on \
    -c ssl_cert_file=$folder/tls/server.pem -c ssl_key_file=$folder/tls/server.key" start

export CLAMPBOOK_TEST_POSTGRES=postgres://owner@127.0.0.1:$port
export CLAMPBOOK_TEST_POSTGRES_PROGRAMS=$programs
export CLAMPBOOK_TEST_POSTGRES_FOLDER=$folder
export CLAMPBOOK_TEST_POSTGRES_ROOTS=$folder/tls/ca.pem
[ -z "$user" ] || export CLAMPBOOK_TEST_POSTGRES_USER=$user
export PATH=$programs:$PATH
began=$(date +%s)
# So that nothing of the person who runs this gets in.
unset PGPASSWORD PGHOST PGUSER PGDATABASE
export PGPASSFILE=/nonexistent

if [ "$#" -gt 0 ]; then
    "$@"
    exit
fi
cargo clippy --quiet --locked --features postgres --all-targets -- -D warnings
cargo test --quiet --locked --features postgres
echo "   with books in a database: $(($(date +%s) - began)) s, building them included"
