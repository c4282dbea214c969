#!/usr/bin/env bash
# The one door: ./go demo | ./go test | ./go soak | ./go lock. Say ./go help.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")"

say() { printf '%s\n' "$*" >&2; }
die() { say "go: $*"; exit 1; }

python() {
    for candidate in python3.13 python3.12 python3.11 python3; do
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            echo "$candidate"
            return
        fi
    done
    die "Python 3.11 or newer is needed. On Debian: apt-get install python3 python3-venv"
}

debian() { # debian NAME PACKAGE...: install packages where we may, else say how
    local what=$1
    shift
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
        say "Installing $what: $*"
        apt-get update -qq >/dev/null
        DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null
    else
        say "Missing $what. As root: apt-get install $*"
        return 1
    fi
}

environment() { # environment LOCK: .venv holds exactly what LOCK says
    local lock=$1 stamp=.venv/lock-stamp sum
    sum=$(cat "$lock" pyproject.toml | sha256sum | cut -d' ' -f1)
    if [ -x .venv/bin/lumenward ] && [ "$(cat $stamp 2>/dev/null)" = "$lock $sum" ]; then return; fi
    # The development lock holds everything the shipped one does.
    if [ "$lock" = requirements.lock ] && grep -q '^requirements-dev.lock ' $stamp 2>/dev/null &&
        [ "$(cut -d' ' -f2 $stamp)" = "$(cat requirements-dev.lock pyproject.toml | sha256sum | cut -d' ' -f1)" ]; then return; fi
    say "Making the environment in .venv"
    if [ ! -x .venv/bin/python ]; then
        "$(python)" -m venv .venv 2>/dev/null || { debian "Python's venv" python3-venv && "$(python)" -m venv --clear .venv; } ||
            die "No virtual environment could be made."
    fi
    if [ ! -x .venv/bin/uv ]; then
        .venv/bin/python -m pip install -q --disable-pip-version-check --require-hashes -r requirements-uv.lock
    fi
    VIRTUAL_ENV=$PWD/.venv .venv/bin/uv pip install -q --require-hashes -r "$lock"
    VIRTUAL_ENV=$PWD/.venv .venv/bin/uv pip install -q --no-deps --no-build-isolation -e .
    echo "$lock $sum" >$stamp
    # Beside what comes next; whatever is loaded before its turn is compiled then.
    nice .venv/bin/python -m compileall -q .venv/lib src >/dev/null 2>&1 </dev/null &
}

records_libraries() { # what printing a record as PDF needs
    if ! ldconfig -p 2>/dev/null | grep -q libpangoft2-1.0; then
        debian "the libraries that print records" libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core ||
            say "Records can be read and printed from the page; PDFs need these libraries."
    fi
}

demo() {
    local port=${LUMENWARD_PORT:-8420}
    export LUMENWARD_HOME=${LUMENWARD_HOME:-$PWD/.lumenward/demo} LUMENWARD_DEMO=1
    if [ "${1:-}" = --fresh ]; then
        [ -e "$LUMENWARD_HOME/demo-house" ] || [ ! -e "$LUMENWARD_HOME" ] || die "$LUMENWARD_HOME is not a demo house; nothing was removed."
        rm -rf "$LUMENWARD_HOME"
    elif [ -n "${1:-}" ]; then
        die "demo knows only --fresh"
    fi
    environment requirements.lock
    records_libraries
    mkdir -p "$LUMENWARD_HOME"
    touch "$LUMENWARD_HOME/demo-house"
    [ -e "$LUMENWARD_HOME/secret-key" ] || say "Inventing 90 days of work"
    .venv/bin/lumenward migrate
    .venv/bin/lumenward demo load
    cat <<TXT

    Open http://127.0.0.1:$port/ and be Mira, a technician.
    Two used endoscopes wait. Take the first to a sink: Sink, Sink 1, then its name. The page says what to do next.
    Everything here is invented. Stop: Ctrl-C. Start over: ./go demo --fresh

TXT
    exec .venv/bin/lumenward serve --port "$port"
}

test_tools() {
    records_libraries
    command -v chromium >/dev/null || debian "Chromium for the browser tests" chromium || die "The browser tests need Chromium."
    ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || debian "PostgreSQL for the database tests" postgresql || die "The database tests need PostgreSQL."
    ldconfig -p 2>/dev/null | grep -q libpangoft2-1.0 || die "The record tests need the libraries that print records."
    environment requirements-dev.lock
}

run_pytest() { say "— pytest $*"; .venv/bin/python -m pytest -q --durations=10 "$@"; }

check_source() {
    say "— format, lint, types, rooms, security"
    .venv/bin/ruff format --check .
    .venv/bin/ruff check .
    .venv/bin/mypy
    .venv/bin/lint-imports
    .venv/bin/bandit -q -c pyproject.toml -r src/lumenward
}

tests() {
    test_tools
    check_source
    local quick="not browser and not crash and not soak"
    run_pytest -n 2 --dist loadfile -m "$quick"
    say "— the same on PostgreSQL, where a database is involved"
    .venv/bin/python tools/with_postgres.py -- .venv/bin/python -m pytest -q --durations=10 -n 2 --dist loadfile -m "$quick" tests/records tests/api tests/screens
    run_pytest -m browser
    run_pytest -m crash
}

soak() {
    test_tools
    LUMENWARD_SOAK=1 run_pytest -m "crash or soak"
    .venv/bin/lumenward bench channels --json
}

lock() {
    environment requirements-dev.lock
    local flags="--universal --generate-hashes --no-emit-index-url --no-annotate --no-header -q"
    # shellcheck disable=SC2086
    .venv/bin/uv pip compile pyproject.toml --group build $flags -o requirements.lock
    # shellcheck disable=SC2086
    .venv/bin/uv pip compile pyproject.toml --group build --group dev -c requirements.lock $flags -o requirements-dev.lock
}

case "${1:-help}" in
    demo) shift; demo "$@" ;;
    test) shift; tests ;;
    soak) shift; soak ;;
    lock) shift; lock ;;
    *)
        cat <<'TXT'
./go demo          an invented unit with 90 days behind it, on this machine only; keeps its data
./go demo --fresh  the same, started over
./go test          everything that must hold before a change lands
./go soak          the long tests and the benchmarks
./go lock          renew the locks after a change of dependencies
TXT
        ;;
esac
