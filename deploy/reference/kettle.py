#!/usr/bin/python3
"""A second kettle, to hold the simulator's against.

Reads one JSON case on standard input: the figures of a plant file, a load, the
temperature everything begins at, and runs of seconds over which element, pump
and the state of the kettle are held. Writes the nodes at the end of each run.

The physics are written down here again from their description, in energy form
(heat of each body as the state) where the simulator uses temperatures, with
IF97's own saturation equation where it uses a table, and integrated by SciPy
to 1e-10. Nothing is shared with the simulator but the figures.
"""
import json
import math
import sys

import numpy
from scipy.integrate import solve_ivp

C = 4186.0          # J/(kg K), all wort
RHO = 0.998206      # kg/L at 20 C
LAYERS, CELLS = 3, 4
PUDDLE = 0.3        # kg
BOIL = 3000.0       # W/K above the boiling point

# IAPWS R7-97(2012) table 34
N = [0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2,
     0.12020824702470e5, -0.32325550322333e7, 0.14915108613530e2,
     -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849,
     0.65017534844798e3]

# Heat of evaporation by IF97, kJ/kg, at 20 ... 101 C
LATENT_T = [20, 30, 40, 50, 60, 65, 70, 75, 80, 85, 90, 95, 98, 100, 101]
LATENT = [2453.55, 2429.84, 2406.00, 2381.97, 2357.69, 2345.43, 2333.08, 2320.63,
          2308.07, 2295.38, 2282.56, 2269.60, 2261.74, 2256.47, 2253.83]
LATENT_FIT = numpy.polyfit(LATENT_T, LATENT, 3).tolist()


def saturation(t):
    """Pa at t C, IF97 equation 30."""
    k = t + 273.15
    theta = k + N[8] / (k - N[9])
    a = theta * theta + N[0] * theta + N[1]
    b = N[2] * theta * theta + N[3] * theta + N[4]
    c = N[5] * theta * theta + N[6] * theta + N[7]
    return (2 * c / (-b + math.sqrt(b * b - 4 * a * c))) ** 4 * 1e6


def boiling(altitude):
    """C at an altitude: ISO 2533 pressure, then the saturation line solved."""
    p = 101325 * (1 - 0.0065 * altitude / 288.15) ** (9.80665 / (287.05287 * 0.0065))
    lo, hi = 50.0, 120.0
    for _ in range(80):
        mid = (lo + hi) / 2
        lo, hi = (mid, hi) if saturation(mid) < p else (lo, mid)
    return lo


def latent(t):
    """J/kg at t C."""
    a, b, c, d = LATENT_FIT
    return (((a * t + b) * t + c) * t + d) * 1000


class Kettle:
    """State: mass, then heat (J against 0 C) of outside, layers, grain layers,
    wall, sheath, pipe cells; then the probe's cells as temperatures."""

    def __init__(self, case):
        self.f = case["figures"]
        self.load = case["load"]
        f, t = self.f, case["begin"]
        self.pipe_cell = f["flow"] * f["delay"] * RHO / CELLS
        self.mass = self.load["water"] * RHO - CELLS * self.pipe_cell
        self.grain = 0.0            # J/K
        self.wort = [t] * (1 + LAYERS)
        self.grains = [t] * LAYERS
        self.wall = self.sheath = t
        self.pipe = [t] * CELLS
        self.probe = [t] * 3        # tip and two cells of the conversion
        self.boils = boiling(f["altitude"])
        self.humid = 0.5 * saturation(f["room"])

    def do(self, event):
        if event == "grain-in":
            self.grain = self.load["grain"] * self.load["specific"]
            warm = self.load["grain_temperature"] + self.f["slaking"] / self.load["specific"]
            self.grains = [warm] * LAYERS
        elif event == "lift":
            self.lift()

    def lift(self):
        """Held wort leaves the layers; what they lack then runs in from outside."""
        s = self.f["outside"]
        held = self.load["grain"] * self.f["retention"] * RHO / LAYERS
        layer = self.mass * (1 - s) / LAYERS - held
        outside = self.mass * s
        self.mass = outside + LAYERS * layer
        want = self.mass * (1 - s) / LAYERS
        out = self.wort[0]
        for i in range(LAYERS):
            t = self.wort[1 + i]
            if layer > want:        # too much: it runs out and mixes
                out = (outside * out + (layer - want) * t) / (outside + layer - want)
                outside += layer - want
        for i in range(LAYERS):
            if layer < want:
                self.wort[1 + i] = (layer * self.wort[1 + i] + (want - layer) * out) / want
        self.wort[0] = out
        self.grain = 0.0

    def pack(self):
        f, s, m = self.f, self.f["outside"], self.mass
        shares = [s] + [(1 - s) / LAYERS] * LAYERS
        heat = [m * w * C * t for w, t in zip(shares, self.wort)]
        heat += [self.grain / LAYERS * t for t in self.grains]
        heat += [f["wall_capacity"] * self.wall, f["sheath_capacity"] * self.sheath]
        heat += [self.pipe_cell * C * t for t in self.pipe]
        return [m] + heat + self.probe

    def open(self, y):
        """Temperatures from a state."""
        f, s, m = self.f, self.f["outside"], y[0]
        shares = [s] + [(1 - s) / LAYERS] * LAYERS
        at = 1
        wort = [y[at + i] / (m * w * C) for i, w in enumerate(shares)]
        at += 1 + LAYERS
        grains = [y[at + i] * LAYERS / self.grain if self.grain else self.grains[i] for i in range(LAYERS)]
        at += LAYERS
        wall, sheath = y[at] / f["wall_capacity"], y[at + 1] / f["sheath_capacity"]
        at += 2
        pipe = [y[at + i] / (self.pipe_cell * C) for i in range(CELLS)]
        at += CELLS
        return wort, grains, wall, sheath, pipe, list(y[at:at + 3])

    def keep(self, y):
        self.mass = y[0]
        self.wort, self.grains, self.wall, self.sheath, self.pipe, self.probe = self.open(y)

    def slope(self, run):
        f = self.f
        s = f["outside"]
        share = (1 - s) / LAYERS
        power = f["power"] * run["element"]
        flow = f["flow"] * RHO * run["pump"]
        turnover = 15.0 if run["stirring"] else (1800.0 if self.grain else 30.0)
        bed = f["bed_transfer"] / LAYERS if self.grain else 0.0
        lid = f["lid_off"] - f["lid_on"] if run["lid_off"] else 0.0
        k = f["vapour_off"] if run["lid_off"] else f["vapour_on"]
        chill = f["chiller"] if run["chiller"] else 0.0
        pipe_loss = f["pipe_loss"] / CELLS
        place = f["place"]

        def derivative(_, y):
            wort, grains, wall, sheath, pipe, probe = self.open(y)
            out, m = wort[0], y[0]
            steam = k * max(0.0, saturation(out) - self.humid) + BOIL * max(0.0, out - self.boils)
            gone = steam / latent(out)
            q = f["transfer"] * (sheath - out)
            w = f["wall_transfer"] * (wall - out)
            d_out = (q + w - lid * (out - f["room"]) - chill * (out - f["chiller_water"])
                     - steam - gone * C * out - flow * C * out)
            d_layers, d_grain = [], []
            above = pipe[-1]
            for t, g in zip(wort[1:], grains):
                swap = m * share / turnover * C * (out - t)
                into_grain = bed * (t - g)
                give = gone * share * C * t
                d_layers.append(flow * C * (above - t) + swap - into_grain - give)
                d_grain.append(into_grain)
                d_out += give - swap
                above = t
            d_out += flow * C * above
            d_pipe, before = [], out
            for t in pipe:
                d_pipe.append(flow * C * (before - t) - pipe_loss * (t - f["room"]))
                before = t
            felt = {"outlet": out, "return": pipe[-1], "bed": wort[2]}[place]
            half = f["conversion"] / 2
            d_probe = [(felt - probe[0]) / f["lag"], (probe[0] - probe[1]) / half, (probe[1] - probe[2]) / half]
            return ([-gone, d_out] + d_layers + d_grain
                    + [-w - f["lid_on"] * (wall - f["room"]), power - q] + d_pipe + d_probe)

        return derivative

    def advance(self, run):
        y = self.pack()
        # absolute tolerances: 1e-9 kg, 1e-8 K
        tolerance = [1e-9] + [1e-5] * (len(y) - 4) + [1e-8] * 3
        answer = solve_ivp(self.slope(run), (0.0, run["seconds"]), y, method="LSODA", rtol=1e-10, atol=tolerance)
        if not answer.success:
            sys.exit("solve_ivp gave up: " + answer.message)
        self.keep(answer.y[:, -1].tolist())

    def nodes(self):
        return [self.sheath] + self.wort + self.grains + [self.wall] + self.pipe + self.probe + [self.mass]


def main():
    case = json.load(sys.stdin)
    kettle = Kettle(case)
    rows = []
    for run in case["runs"]:
        kettle.do(run["event"])
        kettle.advance(run)
        rows.append(kettle.nodes())
    json.dump(rows, sys.stdout)


if __name__ == "__main__":
    main()
