# Sourced by demo/run and tests/run at the project's root: functions that install what a fresh Debian lacks.
# Each does nothing when its work is already done, so a second run starts at once.

say() { printf '%s\n' "$*" >&2; }
die() { say "$*"; exit 1; }

# apt_install PACKAGE...: installs Debian packages as root; anyone else is told what to install.
apt_install() {
    if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null; then
        die "Please install these Debian packages, then run this again: $*"
    fi
    say "Installing: $*"
    log=$(mktemp)
    if ! { apt-get update -q && DEBIAN_FRONTEND=noninteractive \
        apt-get install -y -q --no-install-recommends "$@"; } >"$log" 2>&1 </dev/null; then
        tail -n 30 "$log" >&2
        rm -f "$log"
        die "apt-get could not install: $*"
    fi
    rm -f "$log"
}

# find_python: prints a Python of at least 3.11 that can make virtual environments, or nothing.
find_python() {
    for candidate in python3 python3.14 python3.13 python3.12 python3.11; do
        if command -v "$candidate" >/dev/null && "$candidate" -c '
import sys
import ensurepip, venv
sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            printf '%s\n' "$candidate"
            return
        fi
    done
}

# make_venv [EXTRA]: .venv/ with the project installed editable, with its extra's dependencies if one is named.
# A stamp of pyproject.toml and the folder's name (scripts in a venv name it) lets a second run skip pip.
make_venv() {
    stamp=$(printf '%s\n' "$PWD" | cat - pyproject.toml | sha256sum | cut -d ' ' -f 1)
    if [ -x .venv/bin/python ] && [ "$(cat ".venv/stamp-${1:-core}" 2>/dev/null)" = "$stamp" ]; then
        return
    fi
    if ! .venv/bin/python -c 'import sys, pip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        python=$(find_python)
        if [ -z "$python" ]; then
            apt_install python3 python3-venv ca-certificates
            python=$(find_python)
            [ -n "$python" ] || die "Python 3.11 or newer, with its venv module, is needed."
        fi
        say "Making .venv with $("$python" --version)"
        "$python" -m venv --clear .venv
    fi
    say "Installing handbill${1:+ and what its ${1}s need} into .venv"
    .venv/bin/python -m pip install -qq --disable-pip-version-check -e ".${1:+[$1]}" </dev/null
    printf '%s\n' "$stamp" >.venv/stamp-core
    if [ -n "${1:-}" ]; then printf '%s\n' "$stamp" >".venv/stamp-$1"; fi
}

# debian_tools: what the checks in tests/outside run: browsers, fonts, Node, Java, Perl's MIME tools, a spam filter and
# readers of picture files.
debian_tools() {
    missing=
    command -v chromium >/dev/null || missing="$missing chromium"
    command -v firefox-esr >/dev/null || missing="$missing firefox-esr"
    [ -e /usr/share/fonts/truetype/liberation/LiberationSans-Regular.ttf ] ||
        [ -e /usr/share/fonts/truetype/liberation2/LiberationSans-Regular.ttf ] ||
        missing="$missing fonts-liberation"
    # The Node that playwright's wheel brings is linked against it.
    set -- /usr/lib/*/libatomic.so.1
    [ -e "$1" ] || missing="$missing libatomic1"
    command -v node >/dev/null || missing="$missing nodejs"
    command -v npm >/dev/null || missing="$missing npm"
    command -v java >/dev/null || missing="$missing default-jre-headless"
    command -v perl >/dev/null || missing="$missing perl"
    perl -MMIME::Parser -e 1 2>/dev/null || missing="$missing libmime-tools-perl"
    command -v w3m >/dev/null || missing="$missing w3m"
    command -v spamassassin >/dev/null || missing="$missing spamassassin"
    # Readers of picture files, each by other hands than Pillow's.
    command -v giftext >/dev/null || missing="$missing giflib-tools"
    command -v gifsicle >/dev/null || missing="$missing gifsicle"
    command -v pngcheck >/dev/null || missing="$missing pngcheck"
    command -v exiftool >/dev/null || missing="$missing libimage-exiftool-perl"
    command -v djpeg >/dev/null || missing="$missing libjpeg-turbo-progs"
    command -v cwebp >/dev/null || missing="$missing webp"
    # shellcheck disable=SC2086 # a list of package names, split on purpose
    if [ -n "$missing" ]; then apt_install $missing; fi
}

# node_tools: the packages of tests/tools/package.json, unpacked under .tools/node. Their install scripts are not run.
node_tools() {
    if cmp -s tests/tools/package-lock.json .tools/node/package-lock.json &&
        [ -e .tools/node/complete ]; then
        return
    fi
    say "Installing the Node tools into .tools/node"
    rm -rf .tools/node
    mkdir -p .tools/node
    cp tests/tools/package.json tests/tools/package-lock.json .tools/node/
    npm ci --prefix .tools/node --ignore-scripts --no-audit --no-fund --loglevel=error </dev/null >&2
    : >.tools/node/complete
}
