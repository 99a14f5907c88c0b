#!/usr/bin/env bash
# Prints the manifest of an edition: "offline" (no network at all) or "network".
set -euo pipefail
cd "$(dirname "$0")"

place='<!-- build.sh puts INTERNET here for the edition with network adapters. -->'
internet='<uses-permission android:name="android.permission.INTERNET" />'

grep --quiet --fixed-strings "$place" AndroidManifest.xml
case ${1:-offline} in
    offline) cat AndroidManifest.xml ;;
    network) sed "s|$place|$internet|" AndroidManifest.xml ;;
    *)
        echo "edition.sh: offline or network, not $1" >&2
        exit 2
        ;;
esac
