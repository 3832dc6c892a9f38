#!/usr/bin/env bash
# Drives `coldcheck editor` with two clients that nobody here wrote: Neovim from the distribution's packages, and the
# Python library pygls. `bash tests/editor/run.sh [PROGRAM]` from anywhere; installs what is missing, where it may.
set -euo pipefail
cd "$(dirname "$0")/../.."

program="${1:-}"
if [ -z "$program" ]; then
    cargo build --locked --quiet
    program=target/debug/coldcheck
fi
program="$(realpath "$program")"

install() {
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
        apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install --yes -qq --no-install-recommends "$@" >/dev/null
    else
        echo "missing: install $* and run this again" >&2
        exit 2
    fi
}

scratch="$(mktemp -d)"
trap 'rm -rf "$scratch"' EXIT

command -v nvim >/dev/null 2>&1 || install neovim
python="$scratch/python"
if ! python3 -m venv "$python" >/dev/null 2>&1; then
    install python3 python3-venv
    python3 -m venv "$python"
fi
"$python/bin/pip" install --quiet --disable-pip-version-check 'pygls==2.1.1' 'lsprotocol==2025.0.0'

copy() {
    mkdir -p "$scratch/$1"
    cp -r examples/. "$scratch/$1/"
    mkdir -p "$scratch/$1/.git"
    echo "$scratch/$1"
}

echo "== $(nvim --version | head -n 1)"
# Neovim prints to stderr when it has no screen.
PROGRAM="$program" FOLDER="$(copy neovim)" timeout 300 nvim --headless --clean -i NONE -n -S tests/editor/neovim.lua 2>&1
echo
echo "== pygls 2.1.1"
timeout 300 "$python/bin/python" tests/editor/client.py "$program" "$(copy python)"
