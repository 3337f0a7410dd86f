#!/bin/bash
# Sets up Mosquitto for greenhouses and phones: accounts, access rules, certificate, configuration.
# Run it again at any time: what is there and good stays as it is. README.md beside it says more.
set -euo pipefail
umask 077

usage() {
    cat <<'END'
sudo ./make-accounts.sh --site SITE [option ...]
  --site SITE           a house that may write hypocaust/SITE/#; give it once for each house
  --name NAME           a further name or address under which phones reach this machine
  --new-password USER   replace this account's password (viewer, or hypocaust-SITE)
  --ask                 ask for the viewer's password instead of making one up
  --cert FILE --key FILE    use this certificate and key instead of making them
  --page DIRECTORY      the phone page to be served (default: ../phone beside this script)
  --etc DIRECTORY       where Mosquitto's settings are (default: /etc/mosquitto)
  --house DIRECTORY     where the controller's settings are (default: /etc/hypocaust)
  --owner USER          the user Mosquitto runs as (default: mosquitto)
END
}

fail() { echo "make-accounts.sh: $1" >&2; exit 2; }

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
sites=() names=() renew=() ask='' certificate='' key=''
page=$here/../phone etc=/etc/mosquitto house=/etc/hypocaust owner=mosquitto
while [ $# -gt 0 ]; do
    case $1 in
    --ask) ask=yes; shift; continue ;;
    -h | --help) usage; exit 0 ;;
    --site | --name | --new-password | --cert | --key | --page | --etc | --house | --owner)
        [ $# -gt 1 ] || fail "$1 needs a value" ;;
    *) usage >&2; fail "unknown option $1" ;;
    esac
    case $1 in
    --site) sites+=("$2") ;;
    --name) names+=("$2") ;;
    --new-password) renew+=("$2") ;;
    --cert) certificate=$2 ;;
    --key) key=$2 ;;
    --page) page=$2 ;;
    --etc) etc=$2 ;;
    --house) house=$2 ;;
    --owner) owner=$2 ;;
    esac
    shift 2
done

[ -w "$etc" ] || fail "it writes to $etc: run it with sudo"
for program in openssl mosquitto_passwd; do
    command -v $program >/dev/null || fail "$program is missing: apt-get install mosquitto openssl"
done
id "$owner" >/dev/null 2>&1 || fail "there is no user $owner: apt-get install mosquitto"
[ -d "$etc/conf.d" ] || fail "$etc/conf.d is missing: apt-get install mosquitto"
[ ${#sites[@]} -gt 0 ] || [ -e "$etc/hypocaust/acl" ] || fail "name a house: --site fellside ([site] name in its settings)"
for site in "${sites[@]}"; do
    [[ $site =~ ^[a-z][a-z0-9-]{0,23}$ ]] || fail "site '$site': expected small letters, digits and -, as in [site] name"
done
[ -z "$certificate$key" ] || { [ -r "$certificate" ] && [ -r "$key" ]; } || fail "--cert and --key both need a readable file"
page=$(cd "$page" 2>/dev/null && pwd) || fail "the page is missing: name its directory with --page"
[ -r "$page/index.html" ] || fail "$page has no index.html: name the page's directory with --page"

own=$etc/hypocaust
install -d -m 750 -g "$owner" "$own"
work=$(mktemp -d "$own/work.XXXXXX")
trap 'rm -rf "$work"' EXIT

# --- Accounts. A password goes through files of root and the shell's own commands: no process list shows it. ---

made_up() { # 60 random bits that can be typed on a phone: no letter or digit that looks like another
    local letters=abcdefghijkmnpqrstuvwxyz23456789 text='' byte
    for byte in $(openssl rand 12 | od -An -v -tu1); do
        text+=${letters:byte % 32:1}
        case ${#text} in 4 | 9) text+=- ;; esac
    done
    printf '%s' "$text"
}

asked() { # a password typed twice without being shown
    local one two
    read -rsp "Password for $1: " one </dev/tty && echo >/dev/tty
    read -rsp "The same again: " two </dev/tty && echo >/dev/tty
    [ "$one" = "$two" ] || fail "the two are not the same; nothing was changed"
    [[ ${#one} -ge 8 && $one != *:* ]] || fail "a password needs 8 characters or more, and no colon"
    printf '%s' "$one"
}

account() { # account USER PASSWORD: set it, whether there is one already or not
    : >"$work/others"
    [ ! -e "$own/passwords" ] || grep -v "^$1:" "$own/passwords" >"$work/others" || true
    printf '%s:%s\n' "$1" "$2" >"$work/one"
    mosquitto_passwd -U "$work/one"
    cat "$work/others" "$work/one" >"$work/passwords"
    place "$work/passwords" "$own/passwords" 600
    changed=yes
}

place() { # place FILE TARGET MODE: for the broker, whole or not at all
    chown "$owner:" "$1" && chmod "$3" "$1" && mv "$1" "$2"
}

wanted() { # whether USER is to have a new password
    [ -e "$own/passwords" ] && grep -q "^$1:" "$own/passwords" || return 0
    local user
    for user in "${renew[@]}"; do [ "$user" != "$1" ] || return 0; done
    return 1
}

changed=''
if [ ! -e "$own/acl" ]; then
    cp "$here/acl" "$work/acl" && place "$work/acl" "$own/acl" 600
fi
for user in "${renew[@]}"; do # a house that is there already needs no --site to get a new password
    site=${user#hypocaust-}
    if [ "$user" != viewer ]; then
        grep -q "^user $user\$" "$own/acl" || fail "--new-password $user: there is no such account"
        [[ " ${sites[*]} " == *" $site "* ]] || sites+=("$site")
    fi
done
for site in "${sites[@]}"; do
    user=hypocaust-$site
    if ! grep -q "^user $user\$" "$own/acl"; then
        { cat "$own/acl" && printf '\n# The controller of %s writes its own topics and reads nothing.\nuser %s\ntopic write hypocaust/%s/#\n' \
            "$site" "$user" "$site"; } >"$work/acl"
        place "$work/acl" "$own/acl" 600
        changed=yes
    fi
    wanted "$user" || continue
    password=$(openssl rand -base64 24)
    account "$user" "$password"
    file=$house/mqtt-password-$site
    [ -d "$house" ] || file=$own/mqtt-password-$site # of a controller elsewhere: to be carried there
    printf '%s\n' "$password" >"$work/secret"
    if [ "$(id -u)" = 0 ] && id hypocaust >/dev/null 2>&1; then chown hypocaust: "$work/secret"; fi
    mv "$work/secret" "$file"
    echo "Account $user: its password is in $file"
done
if wanted viewer; then
    if [ -n "$ask" ]; then password=$(asked viewer); else password=$(made_up); fi
    account viewer "$password"
    [ -n "$ask" ] || echo "Account viewer, for phones: its password is $password (write it down: it is kept nowhere)"
fi

# --- Certificate: the one that is given, or one of an authority of our own ---

host=$(hostname)
export HOST_NAME=$host NAMES="DNS:$host"
[[ $host == *.* ]] || NAMES+=",DNS:$host.local"
NAMES+=",DNS:localhost,IP:127.0.0.1"
for name in $(hostname -I 2>/dev/null || true); do # public addresses change, and are none of this authority's business
    [[ ! $name =~ ^(10\.|192\.168\.|172\.(1[6-9]|2[0-9]|3[01])\.|f[cd]) ]] || NAMES+=",IP:$name"
done
for name in "${names[@]}"; do
    if [[ $name =~ ^[0-9.]+$ || $name == *:* ]]; then NAMES+=",IP:$name"; else NAMES+=",DNS:$name"; fi
done

new_key() { openssl ecparam -name prime256v1 -genkey -noout -out "$1"; }

make_authority() {
    new_key "$work/ca.key"
    openssl req -x509 -new -config "$here/authority.cnf" -extensions authority -days 7300 -sha256 \
        -key "$work/ca.key" -subj "/CN=Greenhouse broker at ${host:0:40}" -out "$work/ca.crt"
    chmod 600 "$work/ca.key" && mv "$work/ca.key" "$own/ca.key" # root's alone, never the broker's
    chmod 644 "$work/ca.crt" && mv "$work/ca.crt" "$own/ca.crt"
}

make_certificate() { # phones accept none that is good for more than 825 days
    new_key "$work/broker.key"
    openssl req -new -config "$here/authority.cnf" -key "$work/broker.key" -subj "/CN=${host:0:60}" -out "$work/broker.csr"
    openssl x509 -req -in "$work/broker.csr" -CA "$own/ca.crt" -CAkey "$own/ca.key" -days 820 -sha256 \
        -set_serial "0x00$(openssl rand -hex 16)" -extfile "$here/authority.cnf" -extensions broker \
        -out "$work/broker.crt" 2>"$work/words" || fail "no certificate for $NAMES: $(cat "$work/words")"
    openssl verify -CAfile "$own/ca.crt" "$work/broker.crt" >"$work/words" 2>&1 ||
        fail "the authority may sign for home networks only, not for all of $NAMES; give a certificate with --cert and --key"
    printf '%s\n' "$NAMES" >"$own/names"
    cat "$own/ca.crt" >>"$work/broker.crt"
}

if [ -n "$certificate" ]; then
    [ "$(openssl x509 -in "$certificate" -noout -pubkey)" = "$(openssl pkey -in "$key" -pubout)" ] ||
        fail "$key is not the key of $certificate"
    cp "$certificate" "$work/broker.crt" && cp "$key" "$work/broker.key"
    rm -f "$own/ca.key" "$own/ca.crt" "$own/names" # of no use any more
elif [ ! -e "$own/broker.crt" ] || [ -e "$own/ca.key" ]; then
    [ -e "$own/ca.key" ] || make_authority
    if ! openssl x509 -in "$own/broker.crt" -noout -checkend $((90 * 86400)) >/dev/null 2>&1 ||
        [ "$(cat "$own/names" 2>/dev/null)" != "$NAMES" ]; then
        make_certificate
    fi
fi
if [ -e "$work/broker.crt" ]; then
    place "$work/broker.key" "$own/broker.key" 600
    place "$work/broker.crt" "$own/broker.crt" 644
    changed=yes
fi
echo "Certificate: good until $(openssl x509 -in "$own/broker.crt" -noout -enddate | cut -d= -f2); run this again before"
[ ! -e "$own/ca.crt" ] || echo "Authority, to be installed on each phone: $own/ca.crt"

# --- Configuration ---

sed -e "s|/etc/mosquitto/|$etc/|" -e "s|^http_dir .*|http_dir $page|" "$here/hypocaust.conf" >"$work/conf"
if ! cmp -s "$work/conf" "$etc/conf.d/hypocaust.conf"; then
    chmod 644 "$work/conf" && mv "$work/conf" "$etc/conf.d/hypocaust.conf"
    changed=yes
fi
if [ "$(id -u)" = 0 ] && ! runuser -u "$owner" -- test -r "$page/index.html"; then
    echo "Caution: user $owner cannot read $page; copy the page to /usr/local/share/hypocaust/phone and name it with --page" >&2
fi
if [ -n "$changed" ] && [ "$etc" = /etc/mosquitto ] && [ -d /run/systemd/system ]; then
    systemctl restart mosquitto || fail "Mosquitto does not start; see: journalctl -u mosquitto -n 20"
elif [ -n "$changed" ]; then
    echo "Restart Mosquitto now"
fi
echo "Phones: http://$host.local:8080/"
