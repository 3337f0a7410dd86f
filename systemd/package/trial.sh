#!/bin/bash
# One trial inside a clean root; started by the script "try" beside it, never on a machine that does anything.
set -euo pipefail
export DEBIAN_FRONTEND=noninteractive LC_ALL=C.UTF-8 PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin
cd /trial
older=$(ls hypocaust_0.0.9_*.deb)
newer=$(ls hypocaust_*.deb | grep -v 0.0.9)
settings=/etc/hypocaust/house.toml
state=/var/lib/hypocaust

step() { echo "-- $*"; }
fail() { echo "FAILED: $*" >&2 && exit 1; }
expect() { # expect WHAT COMMAND...: the command must succeed
    local what=$1 && shift
    "$@" || fail "$what"
    echo "   ok: $what"
}
missing() { [ ! -e "$1" ]; }
apt() { apt-get -qy -o Dpkg::Use-Pty=0 "$@" >apt.log 2>&1 || { cat apt.log && fail "apt-get $*"; }; }
version() { dpkg-query --show --showformat='${Version}' hypocaust; }
exits() { # exits CODE COMMAND...
    local wanted=$1 code=0 && shift
    "$@" >said 2>&1 || code=$?
    [ "$code" = "$wanted" ] || { cat said && echo "exit code $code, expected $wanted" >&2 && return 1; }
}
owner() { stat -c '%U:%G %a' "$1"; }

booted() { [ -d /run/systemd/system ]; }
state_of() { systemctl show --property="$1" --value hypocaust; }
runs() { # waits until the service runs and has said that it is ready
    for _ in $(seq 240); do
        [ "$(state_of ActiveState)" = active ] && return
        sleep 0.5
    done
    journalctl --no-pager -u hypocaust | tail -n 40
    return 1
}
release_that_runs() { python3 -c 'import json; print(json.load(open("/run/hypocaust/status.json"))["version"])'; }
rests() { [ "$(state_of ActiveState)" = inactive ]; }

# The installed service's command line, with pins in memory and probes that are files.
as_service() {
    mkdir -p /run/hypocaust && chown hypocaust: /run/hypocaust
    setpriv --reuid=hypocaust --regid=hypocaust --init-groups env -i PATH="$PATH" LC_ALL=C.UTF-8 PYTHONOPTIMIZE=2 \
        PYTHONPYCACHEPREFIX=/var/cache/hypocaust RUNTIME_DIRECTORY=/run/hypocaust STATE_DIRECTORY=$state \
        LG_WD=/run/hypocaust PYTHONTZPATH=/usr/share/zoneinfo "$@"
}
run_for_a_while() {
    rm -f /run/hypocaust/status.json
    local run=
    if booted; then
        systemctl start hypocaust
    else
        as_service hypocaust run "$settings" >run.log 2>&1 &
        run=$!
    fi
    for _ in $(seq 600); do
        [ -s /run/hypocaust/status.json ] && break
        [ -z "$run" ] || kill -0 $run 2>/dev/null || { cat run.log && fail "the service ended by itself"; }
        sleep 0.5
    done
    exits 0 hypocaust status "$settings" || fail "status of the running service"
    grep -q '^Air: ceiling 20.5 °C' said || { cat said && fail "the status does not show this house"; }
    if booted; then
        expect "systemd says that it is ready" test "$(state_of SubState)" = running
    else
        kill -TERM "$(pgrep -f 'hypocaust run')"
        wait $run || { cat run.log && fail "it did not stop in order"; }
        echo "   ok: it ran, showed the house and stopped in order (without systemd)"
    fi
}
rest() { ! booted || systemctl stop hypocaust; }

step "install $older"
apt update
find / -xdev -path /trial -prune -o -path /var/cache -prune -o -print | sort >before
apt install "./$older" --no-install-recommends
grep '^hypocaust:' apt.log | sed 's/^/   says: /'
expect "two lines say what to do next" test "$(grep -c '^hypocaust:' apt.log)" = 2
expect "the service is not enabled" missing /etc/systemd/system/multi-user.target.wants/hypocaust.service
expect "settings are root:hypocaust 640" test "$(owner $settings)" = "root:hypocaust 640"
expect "their folder is root:hypocaust 750" test "$(owner /etc/hypocaust)" = "root:hypocaust 750"
expect "the history's folder is the service's" test "$(owner $state)" = "hypocaust:hypocaust 750"
expect "the user is in group gpio" grep -q 'gpio' <(id -nG hypocaust)
expect "dpkg knows the settings as a conffile" grep -q "$settings" <(dpkg-query -W -f='${Conffiles}' hypocaust)
expect "the version is the program's own" test "$(hypocaust --version)" = "hypocaust 0.0.9"
expect "bytecode lies where only root writes" test -n "$(find /var/cache/hypocaust -path '*controller/loop*.opt-2.pyc' -user root)"
expect "nothing was compiled into /usr/lib/hypocaust" test -z "$(find /usr/lib/hypocaust -name '*.pyc')"
expect "systemd accepts the unit" exits 0 systemd-analyze verify --man=no /usr/lib/systemd/system/hypocaust.service
cat said
expect "bash accepts the completion" bash -c '. /usr/share/bash-completion/completions/hypocaust
    COMP_WORDS=(hypocaust ver) COMP_CWORD=1 && _hypocaust && [ "${COMPREPLY[*]}" = verify ]'
expect "the manual pages are there" zgrep -q 'TH HYPOCAUST' /usr/share/man/man1/hypocaust.1.gz

step "verify"
expect "whole, and what is not here is named" exits 3 hypocaust verify
sed 's/^/   /' said

step "settings of a house, and a run on pins in memory"
sed -i 's/28-01a4c07d1/28-0316a2790/; s/name = "home"/name = "home" # changed by a person/' $settings
mkdir -p /trial/w1
cat >>$settings <<END

[board]
pin_factory = "mock"
w1_devices = "/trial/w1"
END
expect "a person's own file is good" exits 0 hypocaust check $settings
for probe in 0316a2790001 0316a2790002; do
    mkdir -p /trial/w1/28-$probe
    # 20.5 °C as the kernel writes it (48 01 4b 46 7f ff 08 10, check byte worked out from it)
    python3 - >/trial/w1/28-$probe/w1_slave <<'END'
frame = bytes.fromhex("48014b467fff0810")
crc = 0
for byte in frame:
    crc ^= byte
    for _ in range(8):
        crc = crc >> 1 ^ 0x8C if crc & 1 else crc >> 1
words = " ".join(f"{byte:02x}" for byte in (*frame, crc))
print(f"{words} : crc={crc:02x} YES\n{words} t=20500")
END
done
! booted || expect "it can be enabled" systemctl -q enable hypocaust
run_for_a_while
sed 's/^/   /' said
if booted; then
    step "killed with -9"
    pid=$(state_of MainPID)
    kill -KILL "$pid"
    sleep 1
    expect "systemd starts it again" runs
    expect "as another process" test "$(state_of MainPID)" != "$pid"
    expect "outputs were switched off in between" grep -q 'Off: fan:bed (GPIO 17), pump:pit (GPIO 23)' <(journalctl -u hypocaust)
    echo "   systemd $(systemctl --version | head -1 | cut -d' ' -f2), MemoryMax $(state_of MemoryMax), tasks $(state_of TasksCurrent)"
    echo "   $(grep VmRSS "/proc/$(state_of MainPID)/status" | tr -s '\t ' ' ')"
    expect "verify sees it run" exits 3 hypocaust verify
    grep -A1 '^pass *service' said | sed 's/^/   /'
fi
rest
expect "the run left a history" test -s $state/history.sqlite3
expect "and a copy of the settings" test -s $state/last-good.toml
kept=$(sha256sum $settings $state/history.sqlite3)
unchanged() { [ "$kept" = "$(sha256sum $settings $state/history.sqlite3)" ]; }

if [ "${1:-}" = short ]; then
    echo "all good as far as it went: $(. /etc/os-release && echo "$PRETTY_NAME"), $(dpkg --print-architecture), $(python3 --version)"
    exit 0
fi

if [ -e /trial/extras ]; then
    step "the simulated house, an hour a minute"
    mkdir -p /trial/desk
    export TMPDIR=/trial/desk PYTHONPATH=/trial/extras XDG_CACHE_HOME=/trial/desk
    hypocaust run $settings --simulated --start 2025-01-10 --speed 60 >run.log 2>&1 &
    run=$!
    desk=/trial/desk/hypocaust-0/home/run
    # The house model is compiled at its first step, which takes half a minute or more.
    for _ in $(seq 900); do
        kill -0 $run || { cat run.log && fail "it ended by itself"; }
        [ ! -s $desk/status.json ] || [ "$(python3 -c '
import json, sys
print(json.load(open(sys.argv[1]))["seq"] >= 40)' $desk/status.json)" != True ] || break
        sleep 1
    done
    exits 0 env RUNTIME_DIRECTORY=$desk hypocaust status $settings || fail "the status of the simulated house"
    sed 's/^/   /' said
    kill -TERM $run
    wait $run || { cat run.log && fail "it did not stop in order"; }
    echo "   ok: it controlled the simulated house and stopped in order"
    unset TMPDIR PYTHONPATH XDG_CACHE_HOME
fi

step "upgrade to $newer, with the service at rest"
apt install "./$newer"
expect "the version is the new one" test "$(hypocaust --version)" = "hypocaust $(version)"
expect "settings and history are as they were" unchanged
expect "settings are still root:hypocaust 640" test "$(owner $settings)" = "root:hypocaust 640"
! booted || expect "a service at rest stays at rest" rests
expect "nothing is said again" test "$(grep -c '^hypocaust:' apt.log)" = 0
run_for_a_while

if booted; then
    step "downgrade and upgrade while it runs"
    for file in "$older" "$newer"; do
        pid=$(state_of MainPID) since=$(date +%s)
        apt install --allow-downgrades "./$file"
        expect "it runs again" runs
        expect "as another process" test "$(state_of MainPID)" != "$pid"
        for _ in $(seq 60); do [ "$(release_that_runs)" = "$(version)" ] && break || sleep 0.5; done
        expect "of release $(version)" test "$(release_that_runs)" = "$(version)"
        expect "outputs were off while files changed" grep -q 'Off: ' <(journalctl -u hypocaust --since "@$since" -o cat)
        off=$(systemctl show --property=InactiveEnterTimestampMonotonic --value hypocaust)
        on=$(systemctl show --property=ActiveEnterTimestampMonotonic --value hypocaust)
        echo "   off for $(((on - off) / 1000000)) s"
    done
fi
rest

step "a damaged file"
echo '# changed' >>/usr/lib/hypocaust/site/controller/loop.py
rm /usr/lib/hypocaust/site/paho/mqtt/client.py
expect "verify finds it" exits 1 hypocaust verify
grep -A6 '^fail' said | sed 's/^/   /'
apt install --reinstall "./$newer"
expect "installing again mends it" exits 3 hypocaust verify

step "downgrade to $older"
kept=$(sha256sum $settings $state/history.sqlite3)
apt install --allow-downgrades "./$older"
expect "the version is the old one" test "$(hypocaust --version)" = "hypocaust 0.0.9"
expect "settings and history are as they were" unchanged
run_for_a_while
# On purpose left running where systemd runs it.

step "remove"
apt install "./$newer"
kept=$(sha256sum $settings)
unchanged() { [ "$kept" = "$(sha256sum $settings)" ] && [ -s $state/history.sqlite3 ] && [ -s $state/last-good.toml ]; }
apt remove hypocaust
! booted || expect "it was stopped first" rests
expect "settings and history are kept" unchanged
expect "the program is gone" missing /usr/lib/hypocaust
expect "its bytecode is gone" missing /var/cache/hypocaust
apt install "./$newer"
expect "installed again, it finds them" unchanged
! booted || expect "whether it starts at boot is kept" test "$(systemctl is-enabled hypocaust)" = enabled
expect "and is ready" exits 3 hypocaust verify

step "purge"
apt purge hypocaust
expect "settings are gone" missing /etc/hypocaust
expect "the history is gone" missing $state
expect "so is what enabled it" missing /etc/systemd/system/multi-user.target.wants/hypocaust.service
dpkg-query -W -f '${db:Status-Abbrev} ${Package}\n' hypocaust 2>/dev/null || echo "   ok: dpkg does not know it any more"
apt autoremove --purge
find / -xdev -path /trial -prune -o -path /var/cache -prune -o -print | sort >after
comm -13 before after | grep -vE '^/var/(lib/(dpkg|apt|systemd)|log)|^/run' | grep -i hypocaust && fail "this was left"
echo "   ok: nothing with our name is left"
echo "all good: $(. /etc/os-release && echo "$PRETTY_NAME"), $(dpkg --print-architecture), Python $(python3 --version 2>/dev/null || echo removed)"
