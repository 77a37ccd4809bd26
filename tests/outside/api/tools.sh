# Sourced by the checks of the API: tools with pinned versions in environments of their own below the target folder, and a
# service on a throw-away store.
. tests/ground.sh
tools="$target/outside"
document=openapi/clampbook.json

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

clampbook() { "$program" "$@"; }

make_store() { # make_store FOLDER: the demo yard, and a token for each scope and for reading and writing together
    build_program
    rm -rf "$1"
    mkdir -p "$1"
    clampbook --store "$1/book" import seed/skua*.json >/dev/null
    local scopes
    for scopes in read write check admin read,write; do
        clampbook --store "$1/book" --as json token new "with-${scopes/,/-and-}" --scopes "$scopes" |
            python3 -c 'import json, sys; print(json.load(sys.stdin)["items"][0]["token"])' >"$1/$scopes.token"
    done
}

start_service() { # start_service FOLDER [OPTION...]: sets service (process) and url; ends with the script
    local folder=$1
    shift
    # There before anybody looks into it: the process that is started makes it only when it gets its turn.
    : >"$folder/out"
    "$program" --store "$folder/book" serve --listen 127.0.0.1:0 "$@" >"$folder/out" 2>"$folder/log" &
    service=$!
    # Only this script's own child is ended, by its number.
    trap 'kill "$service" 2>/dev/null || true; wait "$service" 2>/dev/null || true' EXIT
    for _ in $(seq 200); do
        url="$(sed -n 's/^listening on //p' "$folder/out")"
        [ -n "$url" ] && return
        sleep 0.05
    done
    cat "$folder/log" >&2
    return 1
}

stop_service() { # ends the service and gives its exit code
    kill "$service"
    wait "$service"
}
