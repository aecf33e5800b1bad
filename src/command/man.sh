#!/bin/bash
# SPDX-License-Identifier: GPL-3.0-or-later
# src/command/man.sh PROGRAM FOLDER: writes the manual pages of the program and of each command that its help lists
# (`  NAME   summary` below the line `Commands:`), from their --help.
set -eu -o pipefail
program=$1 folder=$2
export LC_ALL=C.UTF-8
version=$("$program" --version | awk '{ print $NF; exit }')

page() { # name, summary, command or nothing
    "$program" ${3:+"$3"} --help |
        awk -f "$(dirname "$0")/man.awk" -v name="$1" -v summary="$2" -v version="$version" >"$folder/$1.1"
}

rm -rf "$folder" && mkdir -p "$folder"
page crossward 'audits transfers of critically ill patients from de-identified logs'
"$program" --help | awk '/^Commands:/ { on = 1; next } /^[^ ]/ { on = 0 } on && /^  [a-z]/' |
    while read -r command summary; do
        page "crossward-$command" "$summary" "$command"
    done
