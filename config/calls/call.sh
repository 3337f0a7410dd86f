#!/bin/bash
# Calls a person: call.sh SITE COMMAND [ARGUMENT ...]
#
# Listens to the broker and hands what needs a person to COMMAND on its standard input, one call a time: every alarm to
# act on now when it is raised or grows worse, the end of the controller, and its silence. Needs mosquitto-clients.
# BROKER="-h broker.example.org -p 8883 --capath /etc/ssl/certs -u reader -P ..." says where the broker is.
# SILENCE_S must be longer than valid_for_s of the status: three times publish_every.
set -u
site=$1 && shift
silent=
declare -A called

call() {
    printf '%s %s: %s\n' "$(date '+%F %R')" "$site" "$1" | "${command[@]}" || echo "the call failed: $1" >&2
}

word() { # the text of a JSON key in $payload
    sed -n "s/.*\"$1\":\"\([^\"]*\)\".*/\1/p" <<<"$payload"
}

heard() {
    case $topic in
    */status) [ -z "$silent" ] || call "heard again"; silent= ;;
    */online)
        if [[ $payload == *'"online":false'* && -z $silent ]]; then
            silent=yes
            call "the controller has ended ($(word why)); nobody looks after the house"
        fi ;;
    */alarm/*)
        # What only counts time changes with every message and is no news.
        news=$(sed 's/"\(at\|seq\|since\|since_s\)":[^,}]*//g' <<<"$payload")
        if [[ $payload == *'"priority":"act now"'* && ${called[$topic]-} != "$news" ]]; then
            call "ACT NOW, ${topic##*/}: $(word detail). $(word action)"
        fi
        called[$topic]=$news ;;
    esac
}

command=("$@")
while true; do
    # shellcheck disable=SC2086 # the options of the broker are several words
    while true; do
        IFS=$'\t' read -r -t "${SILENCE_S:-300}" -u 3 topic payload
        result=$?
        if [ $result -eq 0 ]; then
            heard
        elif [ $result -gt 128 ]; then
            [ -n "$silent" ] || call "nothing heard for ${SILENCE_S:-300} s: controller, network or broker is down"
            silent=yes
        else
            break
        fi
    done 3< <(exec mosquitto_sub ${BROKER:-} -q 1 -F '%t\t%p' -t "hypocaust/$site/status" \
        -t "hypocaust/$site/online" -t "hypocaust/$site/alarm/#")
    [ -n "$silent" ] || call "the broker cannot be reached"
    silent=yes
    sleep 10
done
