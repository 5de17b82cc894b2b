#!/usr/bin/env python3
"""An invented bench on pseudo-terminals, worked by hand for the tests in a browser.

Opens three ports of the kernel - a scale, a converter board at a clamp, a sound level meter - writes a lab
folder that names them, and plays until its input ends. Each line of its input changes what the devices
show: a JSON object with any of g (on the pan), a (RMS, 60 Hz), ragged (of the current, A), db (A-weighted),
silent (list of scale, clamp, meter). It answers each with the wall time of the change, ms.
"""
import json, math, os, pathlib, random, select, signal, sys, termios, time, tty

BENCH = """# Invented, for a test.
name = "by-hand"
[microphone.device]
kind = "meter"
[microphone.device.port]
device = "{meter}"
[microphone.device.frame]
shape = "number"
[clamp.device]
kind = "board"
rate_hz = 1000.0
[clamp.device.port]
device = "{clamp}"
baud = 115200
[clamp.device.board]
counter = "uint16"
samples_per_frame = 20
[scale.device]
kind = "serial"
[scale.device.port]
device = "{scale}"
[scale.device.frame]
shape = "mark-kind-number-unit"
[scale.take]
rest_s = 0.5
[record]
pre_roll_s = 5.0
close_after_s = 600.0
[[vessel]]
id = "bowl-1"
dry_g = 100.0
[[vessel]]
id = "sieve-coarse"
dry_g = 300.0
wet_g = 310.0
"""
UNITS = """[[unit]]
id = "unit-a"
name = "Invented Grinder One"
release = "2020-01-01"
rated_current_a = 6.0
[[unit]]
id = "unit-b"
rated_current_a = 5.0
"""
PROCEDURE = """id = "{id}"
title = "{title}"
time_limit_s = {limit}
item = [
    {{ name = "carrot", mass_g = 500.0, tolerance_g = 10.0, cut = "slices of 20 mm" }},
    {{ name = "chicken-wing", mass_g = 300.0, tolerance_g = 5.0, preparation = "raw", pieces = 4, held_back = 1 }},
]
[water]
flow_l_per_min = 6.0
flush_s = 2.0
[after]
coarse_sieve_mm = 4.75
drain_s = 6.0
drain_tolerance_s = 2.0
[checks]
background_s = 2.0
scale = true
"""


def port():
    far, near = os.openpty()
    tty.setraw(near)
    return far, near, os.ttyname(near)


def main():
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever started it ends it
    root = pathlib.Path(sys.argv[1])
    (root / "procedures").mkdir(parents=True)
    ports = {name: port() for name in ("scale", "clamp", "meter")}
    for far, _, _ in ports.values():
        os.set_blocking(far, False)
    (root / "bench.toml").write_text(BENCH.format(**{k: v[2] for k, v in ports.items()}))
    (root / "units.toml").write_text(UNITS)
    (root / "procedures/mixed.toml").write_text(PROCEDURE.format(id="mixed", title="Mixed load", limit=60.0))
    (root / "procedures/quick.toml").write_text(PROCEDURE.format(id="quick", title="A quick one", limit=30.0))
    (root / "scorecard.toml").write_text("")
    print("ready", *(near for _, _, near in ports.values()), flush=True)

    shows = {"g": 0.0, "a": 0.0, "ragged": 0.0, "db": 45.0, "silent": []}
    rng = random.Random(5)
    begun = time.monotonic()
    sent, phase, wander, lines = 0, 0.0, 0.0, 0
    moved = 0.0
    heard, told = b"", []

    def send(name, text):
        if name in shows["silent"]:
            return
        try:
            os.write(ports[name][0], text.encode())
        except BlockingIOError:
            pass  # nobody reads: the bytes are lost, as on a line

    while True:
        now = time.monotonic() - begun
        if not told and select.select([0], [], [], 0.005)[0]:
            more = os.read(0, 65536)
            if not more:
                return
            heard += more
            *told, heard = heard.split(b"\n")  # several may come at once, on a busy machine
        if told:
            change = json.loads(told.pop(0))
            if "g" in change and change["g"] != shows["g"]:
                moved = now
            shows.update(change)
            print(time.time() * 1000, flush=True)
        while sent < now * 1000:  # samples of the clamp
            block = []
            for _ in range(20):
                if sent % 17 == 0:
                    wander = rng.uniform(-1, 1) * shows["ragged"]
                phase += 2 * math.pi * 60 / 1000
                v = (shows["a"] + wander) * math.sqrt(2) * math.sin(phase) + rng.gauss(0, 0.01)
                block.append(str(max(-32768, min(32767, round(v / 100 * 32768)))))
                sent += 1
            lines += 1
            send("clamp", f"{lines % 65536} {' '.join(block)}\r\n")
            if lines % 5 == 0:
                still = now - moved > 0.3
                send("scale", f"{'ST' if still else 'US'},GS,{shows['g']:+9.0f} g\r\n")
                send("meter", f"{shows['db'] + rng.uniform(-0.2, 0.2):.1f}\r\n")


if __name__ == "__main__":
    main()
