# Sourced by the scripts here: packages of a Debian-like system, and the program as it was built.
target="$(realpath -m "${CARGO_TARGET_DIR:-target}")"
mkdir -p "$target/outside"

install_packages() { # install_packages PACKAGE...: with apt-get; elsewhere it is said what is lacking
    command -v apt-get >/dev/null 2>&1 || { echo "Please install: $*" >&2; exit 1; }
    local as_root=""
    [ "$(id -u)" = 0 ] || as_root=sudo
    # At this run level packages start no servers of their own.
    local install="$as_root env DEBIAN_FRONTEND=noninteractive RUNLEVEL=1 apt-get install -y -qq --no-install-recommends"
    echo "   installing $*"
    # Scripts that run at the same time install one after the other.
    (
        flock 9
        $install "$@" >/dev/null 2>&1 || { $as_root apt-get update -qq && $install "$@" >/dev/null; }
    ) 9>"$target/outside/packages.lock"
}

need() { # need COMMAND PACKAGE...: installs the packages if the command is not there
    command -v "$1" >/dev/null 2>&1 || install_packages "${@:2}"
}

build_program() { # sets program: the one that CLAMPBOOK_PROGRAM names, or one that is built now
    program="${CLAMPBOOK_PROGRAM:-}"
    [ -z "$program" ] || return 0
    cargo build --quiet --locked
    program="$target/debug/clampbook"
}
