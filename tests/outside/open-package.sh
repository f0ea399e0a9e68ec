#!/bin/sh
# Opens a package with stock programs only (age, tar, b3sum, sha256sum, jq) and compares every member
# with the manifest.
#
#   open-package.sh PACKAGE.age IDENTITY_FILE OUT_DIR
#
# OUT_DIR must be empty or absent. Exit 0 if every member is there and as listed, 1 if not, 2 if the
# package could not be opened.
set -u
umask 077
export LC_ALL=C

stop() {
    echo "open-package.sh: $*" >&2
    exit 2
}
[ $# -eq 3 ] || stop "usage: open-package.sh PACKAGE.age IDENTITY_FILE OUT_DIR"
package=$1 identity=$2 out=$3
for program in age tar b3sum sha256sum jq find; do
    command -v "$program" >/dev/null 2>&1 || stop "the program '$program' is missing"
done
mkdir -p "$out" || stop "no place to write to"
[ -z "$(ls -A "$out")" ] || stop "OUT_DIR is not empty"
work=$(mktemp -d) || exit 2
trap 'rm -rf "$work"' EXIT
trap 'exit 2' HUP INT TERM

age -d -i "$identity" -o "$work/package.tar" "$package" || stop "the package does not open with this identity"
tar --no-same-owner --no-same-permissions -xf "$work/package.tar" -C "$out" || stop "the opened package is not a whole tar archive"

faults=0
complain() {
    echo "open-package.sh: $*" >&2
    faults=$((faults + 1))
}

[ -f "$out/manifest.json" ] && [ -f "$out/manifest.note" ] || stop "the package has no manifest"
b3=$(b3sum --no-names "$out/manifest.json")
sha=$(sha256sum <"$out/manifest.json" | head -c 64)
[ "$(sed -n 4p "$out/manifest.note")" = "blake3 $b3" ] || complain "manifest.note is over another manifest (blake3)"
[ "$(sed -n 5p "$out/manifest.note")" = "sha256 $sha" ] || complain "manifest.note is over another manifest (sha256)"

jq -r '.files[] | [.name, .bytes, .blake3, .sha256] | @tsv' "$out/manifest.json" >"$work/listed" \
    || stop "the manifest has no list of members"
tab=$(printf '\t')
count=0
while IFS="$tab" read -r name size blake3 sha256; do
    count=$((count + 1))
    if [ ! -f "$out/$name" ]; then
        complain "$name is missing"
        continue
    fi
    [ "$(wc -c <"$out/$name")" -eq "$size" ] || complain "$name has another length"
    [ "$(b3sum --no-names "$out/$name")" = "$blake3" ] || complain "$name has another BLAKE3 digest"
    [ "$(sha256sum <"$out/$name" | head -c 64)" = "$sha256" ] || complain "$name has another SHA-256 digest"
done <"$work/listed"

cut -f1 "$work/listed" >"$work/names"
printf '%s\n' manifest.json manifest.note >>"$work/names"
# Anything that is not a folder counts, so that a link is not overlooked.
find "$out" ! -type d | while read -r path; do
    printf '%s\n' "${path#"$out"/}"
done >"$work/there"
while read -r name; do
    grep -qxF "$name" "$work/names" || complain "$name is not listed in the manifest"
done <"$work/there"

echo "$count members compared, $faults faults"
[ "$faults" -eq 0 ] && [ "$count" -gt 0 ]
