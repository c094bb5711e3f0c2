"""A kettle in another language, to be rehearsed on in lock-step.

    python3 lockstep.py SOCKET

Listens on a unix socket and is the plant of one batch. It is written without
the simulator's code and with another structure: four lumps (element, wort in
front of the bag, mash in it, wall), a pure delay in the pipe, forward Euler of
a tenth of a second, evaporation by a power law. A controller that is good on
one plant only is not good.
"""
import collections
import json
import os
import random
import socket
import sys

WATER = 4187.0  # J/(kg K)
STEP = 0.1  # s


class Kettle:
    def __init__(self, load):
        self.water = load["water_litres"] * 0.998
        self.grain = load["grain_kilograms"]
        self.grain_at = load["grain_celsius"]
        self.power = 2860.0
        self.room, self.boiling = 16.0, 98.8
        self.element = self.front = self.mash = self.wall = self.probe = 13.0
        self.pipe = collections.deque([13.0] * 70)  # 7 s
        self.grain_in = self.lid_off = self.chiller = False
        self.dice = random.Random(3)

    def capacities(self):
        front = 0.4 * self.water * WATER
        back = 0.6 * self.water * WATER
        if self.grain_in:
            back += self.grain * 1690.0
        return front, back

    def event(self, name):
        if name == "grain-in":
            front, back = self.capacities()
            stored = front * self.front + back * self.mash + self.grain * 1690.0 * self.grain_at
            self.grain_in = True
            self.front = self.mash = stored / sum(self.capacities())
        elif name == "lift":
            front, back = self.capacities()
            mean = (front * self.front + back * self.mash) / (front + back)
            self.grain_in = False
            self.water -= 0.8 * self.grain
            self.front = self.mash = mean
        elif name == "lid-off":
            self.lid_off = True
        elif name == "lid-on":
            self.lid_off = False
        elif name == "chiller-on":
            self.chiller = True
        elif name == "chiller-off":
            self.chiller = False

    def loss(self):
        over = self.front - self.room
        loss = (9.0 if self.lid_off else 6.2) * over
        if over > 0:
            loss += (55e-6 if self.lid_off else 4e-6) * over**3.6 / 10
        if self.front > self.boiling:
            loss += 2500.0 * (self.front - self.boiling)
            self.water -= 2500.0 * (self.front - self.boiling) / 2.257e6 * STEP
        return loss

    def second(self, relay, pump):
        for _ in range(10):
            front, back = self.capacities()
            heat = 120.0 * (self.element - self.front)
            self.element += STEP * ((self.power if relay else 0.0) - heat) / 800.0
            wall = 150.0 * (self.front - self.wall)
            self.wall += STEP * (wall - 2.0 * (self.wall - self.room)) / 4500.0
            turn = (0.085 if pump else (0.6 if not self.grain_in else 0.01)) * WATER
            inlet = self.front
            if pump:
                self.pipe.append(self.front)
                inlet = self.pipe.popleft()
            flow = turn * (inlet - self.mash)
            chill = 280.0 * (self.front - 11.0) if self.chiller else 0.0
            self.front += STEP * (heat - wall - turn * (self.front - self.mash) - self.loss() - chill) / front
            self.mash += STEP * flow / back
            self.probe += STEP * (self.front - self.probe) / 10.0
        front, back = self.capacities()
        reading = self.probe + self.dice.gauss(0, 0.04)
        return {
            "reading": round(reading / 0.0625) * 0.0625,
            "fault": "",
            "true_mash": (front * self.front + back * self.mash) / (front + back),
        }


def main(path):
    server = socket.socket(socket.AF_UNIX)
    if os.path.exists(path):
        os.unlink(path)
    server.bind(path)
    server.listen(1)
    print("listening", flush=True)
    talk = server.accept()[0].makefile("rw", encoding="utf-8")
    kettle, due = Kettle(json.loads(talk.readline())), 0
    talk.write("{}\n")
    talk.flush()
    for line in talk:
        tick = json.loads(line)
        assert list(tick) == ["tick", "relay", "pump", "event"], tick
        assert tick["tick"] == due, (tick, due)
        due += 1
        kettle.event(tick["event"])
        talk.write(json.dumps(kettle.second(tick["relay"], tick["pump"])) + "\n")
        talk.flush()


main(sys.argv[1])
