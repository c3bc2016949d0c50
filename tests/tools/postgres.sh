#!/usr/bin/env bash
# A private PostgreSQL for tests and benchmarks: a fresh cluster in a folder of its own.
#
#   postgres.sh start DIR [--durable]    prints the server's URL
#   postgres.sh stop DIR
#
# DIR must be an empty folder that an unprivileged user can reach (`mktemp -d` gives one); it is handed
# to that user, since PostgreSQL refuses to run as root. The server listens on 127.0.0.1 only, on a port
# the system chose, and asks for no password: it holds test data and nothing else.
# Without --durable it does not wait for the disk, so a power cut may lose everything in it.
set -euo pipefail

fail() {
    printf 'postgres.sh: %s\n' "$*" >&2
    exit 1
}

usage() {
    sed -n '2,12s/^# \{0,1\}//p' "${BASH_SOURCE[0]}" >&2
    exit 2
}

# Debian keeps the server's programs out of PATH, one folder a version: take the newest.
bin_folder() {
    local newest
    newest=$(find /usr/lib/postgresql -mindepth 3 -maxdepth 3 -path '*/bin/pg_ctl' 2>/dev/null |
        sort -V | tail -n 1)
    if [ -n "$newest" ]; then
        dirname "$newest"
    elif command -v pg_ctl >/dev/null; then
        dirname "$(readlink -f "$(command -v pg_ctl)")"
    else
        fail 'no pg_ctl on PATH or under /usr/lib/postgresql: install the postgresql package'
    fi
}

server_user() {
    if id postgres >/dev/null 2>&1; then
        echo postgres
    else
        id tautline-test >/dev/null 2>&1 ||
            useradd --system --no-create-home --shell /usr/sbin/nologin tautline-test >&2
        echo tautline-test
    fi
}

as_server() {
    if [ "$(id -u)" -eq 0 ]; then
        runuser -u "$(server_user)" -- "$@"
    else
        "$@"
    fi
}

free_port() {
    python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'
}

settings() { # port, folder, durable
    printf '%s\n' \
        "port = $1" \
        "listen_addresses = '127.0.0.1'" \
        "unix_socket_directories = '$2'" \
        'max_connections = 200' \
        "timezone = 'UTC'"
    if [ "$3" = no ]; then
        printf '%s\n' 'fsync = off' 'synchronous_commit = off' 'full_page_writes = off'
    fi
}

start() {
    local folder=$1 durable=$2 bin port attempt theirs started=no
    case "$folder" in *\'* | *\\*) fail "the folder's name may hold no quote or backslash: $folder" ;; esac
    mkdir -p "$folder"
    folder=$(readlink -f "$folder")
    [ -z "$(ls -A "$folder")" ] || fail "$folder is not empty"
    bin=$(bin_folder)
    [ "$(id -u)" -ne 0 ] || chown "$(server_user)" "$folder"
    # A folder the server's user may not enter would give that user a warning at every command.
    cd "$folder"
    as_server test -w "$folder" || fail "the server's user cannot write to $folder"

    as_server "$bin/initdb" --pgdata="$folder/data" --username=postgres --auth=trust \
        --encoding=UTF8 --locale=C.UTF-8 --no-sync >"$folder/initdb.log" 2>&1 || {
        cat "$folder/initdb.log" >&2
        fail 'initdb failed'
    }
    as_server cp "$folder/data/postgresql.conf" "$folder/data/postgresql.conf.given"

    # Another program can take the port between our asking for it and the server's use of it.
    for attempt in 1 2 3 4 5; do
        port=$(free_port)
        {
            cat "$folder/data/postgresql.conf.given"
            settings "$port" "$folder" "$durable"
        } | as_server tee "$folder/data/postgresql.conf" >/dev/null
        if as_server "$bin/pg_ctl" --pgdata="$folder/data" --log="$folder/server.log" \
            --wait --timeout=60 start </dev/null >"$folder/start.log" 2>&1; then
            started=yes
            break
        fi
        printf 'postgres.sh: start %d on port %s failed\n' "$attempt" "$port" >&2
    done
    if [ "$started" = no ]; then
        cat "$folder/start.log" "$folder/server.log" >&2 2>/dev/null || true
        fail 'PostgreSQL did not start'
    fi

    theirs=$("$bin/psql" --host=127.0.0.1 --port="$port" --username=postgres --dbname=postgres \
        --no-psqlrc --no-password --tuples-only --no-align --command='show data_directory') || theirs=
    if [ "$theirs" != "$folder/data" ]; then
        stop "$folder"
        fail "port $port answers for '$theirs', not for $folder/data"
    fi
    printf 'postgres://postgres@127.0.0.1:%s/postgres\n' "$port"
}

stop() {
    local folder bin
    folder=$(readlink -f "$1")
    [ -f "$folder/data/postmaster.pid" ] || return 0
    bin=$(bin_folder)
    cd "$folder"
    as_server "$bin/pg_ctl" --pgdata="$folder/data" --mode=fast --wait --timeout=20 stop >/dev/null ||
        as_server "$bin/pg_ctl" --pgdata="$folder/data" --mode=immediate --wait --timeout=20 stop >/dev/null ||
        fail "the server in $folder does not stop"
}

[ $# -ge 2 ] || usage
command=$1 folder=$2
shift 2
durable=no
if [ "${1:-}" = --durable ]; then
    durable=yes
    shift
fi
[ $# -eq 0 ] || usage
case "$command" in
start) start "$folder" "$durable" ;;
stop) stop "$folder" ;;
*) usage ;;
esac
