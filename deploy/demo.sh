#!/usr/bin/env bash
# The main job on the simulated bench, from raw samples to figures and pictures, in under a minute.
#
#   deploy/demo.sh [FOLDER]      FOLDER: where the results go (default: demo-out beside deploy/)
#
# Needs Go. Every unit, load and level in it is invented.
set -euo pipefail
here=$(cd "$(dirname "$0")/.." && pwd)
out=${1:-$here/demo-out}
case $out in /*) ;; *) out=$PWD/$out ;; esac
cd "$here"
. deploy/need.sh
need_go
t0=$SECONDS
say() { printf '\n== %s (%d s)\n' "$1" $((SECONDS - t0)); }
show() { # a command as one would type it in the folder of the results, then what it prints
	printf '$ quern %s\n' "$*"
	"$quern" "$@"
}

# Only what an earlier demonstration made is removed; a folder of anybody else's is left alone.
mark=$out/.made-by-demo
if [ -e "$out" ] && [ ! -e "$mark" ] && [ -n "$(ls -A "$out" 2>&1)" ]; then
	echo "demo: found $out, which this script did not make; expected a new or empty folder: name another" >&2
	exit 2
fi
mkdir -p "$out"
touch "$mark"
rm -rf "$out"/{closeups,season,pictures,elsewhere,lab,lab-next-year,live,daemon.log,imported-unit-a,report,tables,plan.csv,*.txt,results.jsonl,standings.json}
mkdir "$out/closeups" "$out/pictures" "$out/elsewhere"

say "building quern and the scripts of its pages"
deploy/web.sh >/dev/null || true # it says why; the pages do without
built=$(mktemp -d)
trap 'rm -rf "$built"' EXIT
quern=$built/quern
CGO_ENABLED=0 go build -o "$quern" ./cmd/quern

cp -r testdata/lab "$out/lab"
cd "$out"

say "the lab folder, explained (all of it: check.txt)"
"$quern" check lab >check.txt
echo '$ quern check lab'
sed '/^How a recording is read/,$d' check.txt
sed -n '/^Safety/,/^$/p' check.txt

say "three sessions on the simulated bench, in full"
for s in stall-and-trip overload universal-motor; do show simulate --scenario $s --out closeups/$s; done

say "finding and measuring their runs (event by event: events.txt; as JSON lines: results.jsonl)"
echo '$ quern replay closeups/*'
"$quern" replay closeups/* >events.txt
sed '/, run 1$/,$d' events.txt
echo '$ quern replay --json closeups/* >results.jsonl'
"$quern" replay --json closeups/* >results.jsonl

say "one session, event by event"
sed -n '/^stall-and-trip.*, run 1$/,/^$/p' events.txt

say "a picture of each session"
for s in closeups/*; do show draw "$s" --out "pictures/$(basename "$s").png"; done

say "the plan of a campaign: what is run when (all of it: plan.csv)"
echo '$ quern plan --lab lab --day 2026-03-02 --day 2026-03-03 --seed 7 --out plan.csv'
"$quern" plan --lab lab --day 2026-03-02 --day 2026-03-03 --seed 7 --out plan.csv >plan.txt
sed -n 1,14p plan.txt

say "a whole season of six invented units, with weighings, checks, a void run and corrections"
show simulate --campaign --lab lab --out season

say "one run, judged while its leftovers could still be weighed again"
one=$(ls -d season/sessions/*unit-a-mixed* | head -1)
show score --lab season/lab "$one"

say "the standings (all of it: standings.txt, standings.json; one unit: unit-a.txt; where every number comes from: explain.txt)"
"$quern" standings --lab season/lab season/sessions >standings.txt
"$quern" standings --lab season/lab season/sessions --json >standings.json
"$quern" score --lab season/lab season/sessions --unit unit-a >unit-a.txt
"$quern" explain unit-a --lab season/lab season/sessions >explain.txt
echo '$ quern standings --lab season/lab season/sessions'
cat standings.txt

say "next year's rules: noise counts twice as much. Who moves, and why?"
cp -r season/lab lab-next-year
sed -i 's/^weight = 25.0/weight = 50.0/' lab-next-year/scorecard.toml
show standings --lab lab-next-year season/sessions --against season/lab

say "ready to publish: the standings and one unit as pages with their plots, every number as CSV"
show report standings --lab season/lab --out report season/sessions
show report unit-a --lab season/lab --out report season/sessions
show export season/sessions --lab season/lab --out tables

say "has any byte of the recordings changed since?"
echo '$ quern verify season/sessions/*'
"$quern" verify season/sessions/* | tail -3

say "a recording made elsewhere"
# The files of one simulated session stand in for those of somebody's own recorders: two WAV files
# and a table of the scale.
one=closeups/stall-and-trip
cp "$one/recordings/microphone.wav" "$one/recordings/clamp.wav" elsewhere/
awk -F'[ ,=]' '
	BEGIN { print "time_s,mass_g,stable" }
	/^scale,/ {
		for (i = 1; i < NF; i++) v[$i] = $(i + 1)
		print v["t_s"] "," v["mass_g"] "," (v["stable"] == "true")
	}' "$one/journal.lp" >elsewhere/scale.csv
show import --lab lab --unit unit-a --procedure mixed --out imported-unit-a \
	--microphone elsewhere/microphone.wav --clamp elsewhere/clamp.wav \
	--scale elsewhere/scale.csv --start 2026-03-01T10:00:00Z
show replay imported-unit-a

say "the daemon, on an invented bench at ten times real time"
echo '$ quern serve --simulate stall-and-trip --speed 10 --out live &'
"$quern" serve --simulate stall-and-trip --speed 10 --out live --listen 127.0.0.1:0 2>daemon.log &
daemon=$!
trap 'kill "$daemon" 2>/dev/null || true; rm -rf "$built"' EXIT
at=
for _ in $(seq 50); do # it says where it listens
	at=$(sed -n 's/.*listen=\([0-9.:]*\).*/\1/p' daemon.log)
	[ -n "$at" ] && break
	sleep 0.1
done
sleep 2.5 # half a minute of the bench: the motor is stalled
show status --at "$at"
"$quern" act --at "$at" mark "what a person had to say"
sleep 4
echo "\$ kill -TERM $daemon    (it closes and seals the session)"
kill -TERM "$daemon"
wait "$daemon" || true
trap 'rm -rf "$built"' EXIT
show verify live/*
show replay live/*
show draw live/* --out pictures/live.png

say "done"
cat <<END
All units, loads and levels above are invented: no such appliance exists. Everything lies in
  $out
    pictures/         look at these first
    report/           pages as one would publish them: open standings.html and unit-a.html in a browser; plots/ beside them
    tables/           every number as CSV; columns.csv says what each column is
    standings.txt     the ranking of the season; standings.json is the same for programs
    unit-a.txt        one unit, test by test; explain.txt: where every number of it comes from
    plan.csv          the run order of a campaign, for a spreadsheet
    events.txt        runs as a table, then event by event
    results.jsonl     the same with every figure, one JSON object a session
    check.txt         what the bench will do, and every setting with its reason
    lab/              a lab folder to copy for your own bench
    season/           the lab of the invented season and its sessions: WAV, line protocol, TOML and JSON with checksums
    closeups/         three sessions in full
    elsewhere/        recordings as another program would leave them
    imported-unit-a/  the session they became
    live/             what the daemon recorded by itself; daemon.log is what it said
To keep the program: go build ./cmd/quern, in the folder of its source.
END
