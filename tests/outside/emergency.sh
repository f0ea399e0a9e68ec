#!/bin/sh
# The emergency test: reads every record of a store with the recovery sheet and stock programs only
# (a POSIX shell and its tools, age, b3sum), following schema/FORMAT.md.
#
#   emergency.sh STORE_DIR RECOVERY_IDENTITY_FILE OUT_DIR
#
# Writes each record to OUT_DIR/NNNNNN.json. Exit 0 only if every record could be read and is the one
# its entry was sealed over, or is of a chart that an entry says was destroyed; 1 if not; 2 if it could not begin.
set -u
umask 077
export LC_ALL=C

if [ $# -ne 3 ]; then
    echo "usage: emergency.sh STORE_DIR RECOVERY_IDENTITY_FILE OUT_DIR" >&2
    exit 2
fi
store=$1 recovery=$2 out=$3
for program in age b3sum od awk sed tail head mktemp; do
    command -v "$program" >/dev/null 2>&1 || {
        echo "emergency.sh: the program '$program' is missing" >&2
        exit 2
    }
done
if [ ! -d "$store/ledger" ] || [ ! -f "$recovery" ] || ! mkdir -p "$out"; then
    echo "emergency.sh: no store, no recovery identity, or no place to write to" >&2
    exit 2
fi
work=$(mktemp -d) || exit 2
trap 'rm -rf "$work"' EXIT
trap 'exit 2' HUP INT TERM

read_count=0 failed=0 expected=1 previous=null

complain() {
    echo "emergency.sh: $*" >&2
    failed=$((failed + 1))
}

# The bytes of file $1 from offset $2 (counted from 0), $3 of them.
cut_bytes() { tail -c "+$(($2 + 1))" "$1" | head -c "$3"; }

# A u32, little-endian, at offset $2 of file $1.
u32() { od -An -v -tu1 -j "$2" -N 4 "$1" | awk '{print $1 + 256 * ($2 + 256 * ($3 + 256 * $4))}'; }

b3() { b3sum --no-names "$1"; }

# The value of field $1 in the leaf's line; null stays null.
field() { sed -n "1s/.*\"$1\" *: *\"\{0,1\}\([^\",}]*\).*/\1/p" "$work/leaf"; }

# 64 hex digits on standard input to 32 raw bytes.
raw_key() {
    # shellcheck disable=SC2059
    printf "$(awk '{
        digits = "0123456789abcdef"
        for (i = 1; i <= length($0); i += 2)
            printf "\\%03o", (index(digits, substr($0, i, 1)) - 1) * 16 + index(digits, substr($0, i + 1, 1)) - 1
    }')"
}

# Puts the identities that may open an entry of chart $1 (or null) into $work/identities.
identities_for() {
    if [ "$1" = null ]; then
        cp "$work/roles" "$work/identities"
        return
    fi
    if [ ! -f "$work/chart-$1" ]; then
        for half in desk clinical; do
            age -d -i "$work/roles" "$store/keys/chart-$1-$half.age" 2>/dev/null
        done >"$work/chart-$1"
    fi
    cp "$work/chart-$1" "$work/identities"
}

# One entry: $work/leaf and $work/body, cut out of the segment.
entry() {
    seq=$(field seq) chart=$(field chart)
    case $seq in
    '' | *[!0-9]*)
        complain "$1: a leaf without a number"
        expected=$((expected + 1))
        return
        ;;
    esac
    [ "$seq" -eq "$expected" ] || complain "$1: entry $seq stands where $expected belongs"
    [ "$(field prev)" = "$previous" ] || complain "entry $seq: does not follow from the entry before"
    previous=$(b3 "$work/leaf")
    expected=$((seq + 1))
    if [ "$(b3 "$work/body")" != "$(field body)" ] \
        || [ "$(wc -c <"$work/body")" -ne "$(field size)" ]; then
        complain "entry $seq: the body is not the one that was sealed"
        return
    fi
    if [ "$(head -c 21 "$work/body")" = "age-encryption.org/v1" ]; then
        identities_for "$chart"
        age -d -i "$work/identities" -o "$work/plain" "$work/body" 2>/dev/null || {
            # Whether that is by order is known when everything was read.
            echo "$seq $chart" >>"$work/shut"
            return
        }
    else
        cp "$work/body" "$work/plain"
    fi
    if [ "$(sed -n '1p;1q' "$work/plain")" != "inkfast-body/v1" ]; then
        complain "entry $seq: not a body"
        return
    fi
    # The marker's line is 16 bytes long and the opening's 65; the record is the rest.
    tail -c +82 "$work/plain" >"$work/record"
    cut_bytes "$work/plain" 16 64 | raw_key >"$work/key"
    if [ "$(b3sum --keyed --no-names "$work/record" <"$work/key")" != "$(field commit)" ]; then
        complain "entry $seq: the record is not the one that was sealed"
        return
    fi
    cp "$work/record" "$out/$(printf %06d "$seq").json"
    read_count=$((read_count + 1))
}

# One segment, frame by frame, up to the zeros at its end.
segment() {
    length=$(wc -c <"$1") at=0
    while [ "$at" -lt "$length" ]; do
        cut_bytes "$1" "$at" 12 >"$work/header"
        marker=$(tr -d '\000' <"$work/header" | head -c 4)
        if [ -z "$marker" ] && [ -z "$(tail -c "+$((at + 1))" "$1" | tr -d '\000' | head -c 1 | od -An -tx1)" ]; then
            return
        fi
        check=$(od -An -v -tx1 -j $((at + 12)) -N 4 "$1" | tr -d ' \n')
        if [ "$(b3 "$work/header" | head -c 8)" != "$check" ]; then
            complain "$1: no frame at byte $at; the rest of this segment was not read"
            return
        fi
        first=$(u32 "$1" $((at + 4))) second=$(u32 "$1" $((at + 8)))
        if [ "$marker" = IFe1 ]; then
            cut_bytes "$1" $((at + 16)) "$first" >"$work/leaf"
            cut_bytes "$1" $((at + 16 + first)) "$second" >"$work/body"
            rm -f "$work/plain"
            entry "$1 at byte $at"
        fi
        at=$((at + 16 + first + second))
    done
}

for role in desk clinical; do
    age -d -i "$recovery" "$store/keys/role-$role.age" >>"$work/roles" || {
        echo "emergency.sh: the recovery identity does not open keys/role-$role.age" >&2
        exit 2
    }
done
for file in "$store"/ledger/*.seg; do
    if [ -f "$file" ]; then
        segment "$file"
    fi
done

# True when a record says that the keys of chart $1 were destroyed, and none of them is there.
destroyed() {
    for key in "$store/keys/chart-$1"*; do
        [ ! -e "$key" ] || return 1
    done
    grep -l '"kind":"chart-disposed"' "$out"/*.json 2>/dev/null | while read -r record; do
        grep -q "\"chart\":\"$1\".*\"state\":\"done\"" "$record" && echo yes
    done | grep -q yes
}

gone=0
if [ -f "$work/shut" ]; then
    while read -r seq chart; do
        if [ "$chart" != null ] && destroyed "$chart"; then
            gone=$((gone + 1))
        else
            complain "entry $seq: no key here opens it"
        fi
    done <"$work/shut"
fi

echo "$read_count records read, $gone of a destroyed chart, $failed faults"
[ "$failed" -eq 0 ] && [ "$read_count" -gt 0 ]
