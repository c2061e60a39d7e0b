# Sourced by demo/run and tests/run, which set `root`. Leaves `python`, an interpreter of .venv with this package installed.
#
#     set_up NAME EXTRAS      NAME keeps the stamps of demo and tests apart; EXTRAS is "" or "[test]"
#
# The stamp holds what the installation rests on: pyproject.toml and where the tree lies. While it fits, nothing is installed.

venv=$root/.venv
python=$venv/bin/python

fail() {
    echo "appui: $*" >&2
    exit 1
}

find_python() {
    for candidate in ${PYTHON:-} python3 python3.14 python3.13 python3.12 python3.11; do
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            echo "$candidate"
            return
        fi
    done
}

as_root() {
    if [ "$(id -u)" = 0 ]; then
        "$@"
    else
        sudo -n "$@"
    fi
}

get_libraries() {
    if command -v apt-get >/dev/null 2>&1; then
        as_root apt-get install -y -q "$@" || { as_root apt-get update -q && as_root apt-get install -y -q "$@"; }
    elif command -v brew >/dev/null 2>&1; then
        brew install fluid-synth cairo
    else
        return 1
    fi
}

has_libraries() {
    "$python" -c 'import fluidsynth, cairosvg' 2>/dev/null
}

make_venv() {
    "$python" -c 'import pip' 2>/dev/null && return
    base=$(find_python)
    [ -n "$base" ] || fail "needs Python 3.11 or newer: install it, or name it in PYTHON"
    "$base" -m venv --clear "$venv" || fail "Python cannot make a virtual environment: install python3-venv"
}

set_up() {
    stamp=$venv/.appui-$1
    fits=$(cksum <"$root/pyproject.toml")" $root"
    [ "$(cat "$stamp" 2>/dev/null)" = "$fits" ] && return
    echo "appui: setting up .venv (once)" >&2
    make_venv
    "$python" -m pip install --quiet --disable-pip-version-check --editable "$root$2" || fail "pip could not install the package: see above"
    if ! has_libraries; then
        get_libraries libfluidsynth3 libcairo2 >"$venv/libraries.log" 2>&1 || true
    fi
    if has_libraries; then
        echo "$fits" >"$stamp"
    else
        echo "appui: no audio without FluidSynth, no PDF without cairo: install libfluidsynth3 and libcairo2 (Debian) or fluid-synth and cairo (Homebrew) and run again" >&2
    fi
}
