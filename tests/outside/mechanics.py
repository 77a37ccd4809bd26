"""Compares what `clampbook tighten` and `clampbook convert` print with general reference libraries.

    python3 tests/outside/mechanics.py PATH/OF/clampbook

- pint converts the units,
- scipy finds the preload at a utilisation as the root of the combined stress (the binary solves for it),
- scipy finds the turn at which the bolt yields, and integrates the flow beyond it (the binary has a closed form).

The geometry, the resiliences and the stresses are written here once more from the standards, so that a slip in one of
the two shows. Needs scipy and pint; mechanics.sh installs the versions that this was written with.
"""

import json
import math
import subprocess
import sys

import pint
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

MODULUS = 205_000.0  # MPa, steel
UNITS = pint.UnitRegistry()
NAMES = {
    "N·m": UNITS.newton * UNITS.meter,
    "lbf·ft": UNITS.force_pound * UNITS.foot,
    "lbf·in": UNITS.force_pound * UNITS.inch,
    "kgf·m": UNITS.force_kilogram * UNITS.meter,
    "kgf·cm": UNITS.force_kilogram * UNITS.centimeter,
    "cN·m": UNITS.centinewton * UNITS.meter,
    "kN": UNITS.kilonewton,
    "lbf": UNITS.force_pound,
    "kgf": UNITS.force_kilogram,
    "mm": UNITS.millimeter,
    "in": UNITS.inch,
    "MPa": UNITS.megapascal,
    "psi": UNITS.psi,
    "ksi": UNITS.ksi,
}
# Rp0.2, Rm (MPa) and A: ISO 898-1:2013, table 3.
CLASSES = {"8.8": (640.0, 800.0, 0.12), "10.9": (940.0, 1040.0, 0.09), "12.9": (1100.0, 1220.0, 0.08)}
THREADS = {"M6": (6.0, 1.0), "M8": (8.0, 1.25), "M10": (10.0, 1.5), "M12x1.25": (12.0, 1.25), "M16x1.5": (16.0, 1.5)}

checked = 0


def run(binary, *arguments):
    output = subprocess.run([binary, *arguments, "--as", "json"], check=True, capture_output=True, text=True)
    return json.loads(output.stdout)


def near(what, ours, theirs, relative):
    """Six figures are printed, so two numbers that are the same differ by up to 5e-6."""
    global checked
    checked += 1
    if abs(ours - theirs) > relative * max(abs(theirs), 1e-9):
        sys.exit(f"{what}: clampbook has {ours}, outside {theirs}")


def conversions(binary):
    groups = [["N·m", "lbf·ft", "lbf·in", "kgf·m", "kgf·cm", "cN·m"], ["kN", "lbf", "kgf"], ["mm", "in"], ["MPa", "psi", "ksi"]]
    for group in groups:
        for one in group:
            for other in group:
                value = run(binary, "convert", f"35.5 {one}", other)["value"]
                theirs = (35.5 * NAMES[one]).to(NAMES[other]).magnitude
                near(f"35.5 {one} in {other}", value, theirs, 1e-9)
    for torque, unit in [("35", "lbf·ft"), ("120", "lbf·in"), ("4.5", "kgf·m")]:
        answer = run(binary, "tighten", "3/8-16 UNC", "grade 8", "--torque", f"{torque} {unit}", "--friction", "0.12")
        near(f"{torque} {unit}", answer["torque_nm"], (float(torque) * NAMES[unit]).to("newton meter").magnitude, 1e-5)


class Bolt:
    """ISO metric thread (ISO 724, ISO 898-1) at one friction; torsion even over the section (VDI 2230-1, 5.5.1)."""

    def __init__(self, d, p, friction):
        height = math.sqrt(3.0) / 2.0 * p
        self.d, self.p, self.friction = d, p, friction
        self.d2, self.d3 = d - 0.75 * height, d - 17.0 / 12.0 * height
        self.ds = (self.d2 + self.d3) / 2.0
        self.area = math.pi / 4.0 * self.ds**2

    def thread_torque(self, preload):
        slope = math.atan(self.p / (math.pi * self.d2)) + math.atan(self.friction / math.cos(math.pi / 6.0))
        return preload * self.d2 / 2.0 * math.tan(slope)

    def torque(self, preload, friction_diameter):
        return (self.thread_torque(preload) + preload * self.friction * friction_diameter / 2.0) / 1000.0

    def stresses(self, preload):
        tension = preload / self.area
        torsion = self.thread_torque(preload) / (math.pi / 12.0 * self.ds**3)
        return tension, math.hypot(tension, math.sqrt(3.0) * torsion)


def preloads(binary):
    for thread, (d, p) in THREADS.items():
        for name, (strength, _, _) in CLASSES.items():
            for friction in (0.08, 0.12, 0.20):
                for share in (0.75, 0.9, 1.0):
                    answer = run(
                        binary, "tighten", thread, name, "--friction", str(friction), "--utilisation", str(share)
                    )
                    bolt = Bolt(d, p, friction)
                    root = brentq(lambda f: bolt.stresses(f)[1] - share * strength, 1.0, 1e7, xtol=1e-9, rtol=1e-14)
                    what = f"{thread} {name} µ {friction} ν {share}"
                    near(f"{what}: stress area", answer["stress_area_mm2"], bolt.area, 1e-5)
                    near(f"{what}: preload", answer["preload_n"], root, 1e-5)
                    near(f"{what}: torque", answer["torque_nm"], bolt.torque(root, answer["friction_diameter_mm"]), 1e-5)


def bolt_resilience(bolt, grip):
    """VDI 2230-1, 5.1.1: hexagon head, threaded up to the head, steel nut."""
    nominal, minor = math.pi / 4.0 * bolt.d**2, math.pi / 4.0 * bolt.d3**2
    return ((0.5 + 0.4) * bolt.d / nominal + (grip + 0.5 * bolt.d) / minor) / MODULUS


def parts_resilience(grip, bearing, hole, part):
    """VDI 2230-1, 5.1.2.1, through-bolted, by integrating 1/(E A) along the cone."""
    tangent = 0.362 + 0.032 * math.log(grip / bearing / 2.0) + 0.153 * math.log(part / bearing)

    def slope(z, _):
        width = min(bearing + 2.0 * tangent * min(z, grip - z), part)
        return [4.0 / (math.pi * MODULUS * (width**2 - hole**2))]

    half = solve_ivp(slope, (0.0, grip / 2.0), [0.0], rtol=1e-10, atol=1e-16, max_step=grip / 400.0)
    return 2.0 * half.y[0][-1]


def flow(bolt, material, snug, resilience, length, advance):
    """Preload and permanent strain after an advance in mm: the elastic part, an event at yield, then the rate equations."""
    strength, tensile, elongation = material
    epsilon = elongation / 6.0

    def rates(_, state):
        preload, plastic, flow_stress = state
        tension, combined = bolt.stresses(preload)
        if combined < flow_stress * (1.0 - 1e-12):
            return [1.0 / resilience, 0.0, 0.0]
        per_newton, share = combined / preload, tension / combined
        hardening = (tensile - flow_stress) / epsilon
        plastic_rate = 1.0 / (resilience * hardening / per_newton + length * share)
        return [hardening * plastic_rate / per_newton, plastic_rate, hardening * plastic_rate]

    def yields(_, state):
        return bolt.stresses(state[0])[1] - strength

    yields.terminal = True
    options = {"rtol": 1e-10, "atol": [1e-6, 1e-12, 1e-9]}
    elastic = solve_ivp(lambda a, s: [1.0 / resilience, 0.0, 0.0], (0.0, advance), [snug, 0.0, strength], events=yields, **options)
    if not elastic.t_events[0].size:
        return elastic.y[0][-1], 0.0, None
    start = elastic.t_events[0][0]
    state = elastic.y_events[0][0] * [1.0 + 1e-11, 1.0, 1.0]
    plastic = solve_ivp(rates, (start, advance), state, **options)
    preload, strain = plastic.y[0][-1], plastic.y[1][-1]
    tension, combined = bolt.stresses(preload)
    return preload, strain * tension / combined, start


def turns(binary):
    yielded = 0
    for thread, (d, p) in THREADS.items():
        for name, material in CLASSES.items():
            for friction, grip_over_d, degrees in [(0.08, 2.0, 30), (0.12, 3.0, 90), (0.12, 6.0, 180), (0.2, 4.0, 120)]:
                bolt, grip, hole = Bolt(d, p, friction), grip_over_d * d, 1.1 * d
                torque = 0.25 * bolt.torque(bolt.area * material[0], 1.3 * d)
                answer = run(
                    binary, "tighten", thread, name, "--friction", str(friction), "--torque", f"{torque:.3f} N·m",
                    "--angle", str(degrees), "--grip", f"{grip} mm", "--hole", f"{hole:.4f} mm", "--head", "hexagon",
                )
                friction_diameter = answer["friction_diameter_mm"]
                bearing = 2.0 * friction_diameter - round(hole, 4)
                snug = round(torque, 3) / bolt.torque(1.0, friction_diameter)
                parts = parts_resilience(grip, bearing, round(hole, 4), 3.0 * bearing)
                resilience = bolt_resilience(bolt, grip) + parts
                advance = p * degrees / 360.0
                preload, strain, _ = flow(bolt, material, snug, resilience, grip + 0.5 * d, advance)
                elastic = brentq(
                    lambda a: bolt.stresses(snug + a / resilience)[1] - material[0], 0.0, 100.0 * p, xtol=1e-12
                )
                what = f"{thread} {name} µ {friction} grip {grip} {degrees}°"
                near(f"{what}: snug preload", answer["snug_preload_n"], snug, 2e-5)
                near(f"{what}: yield angle", answer["yield_angle_deg"], elastic / p * 360.0, 1e-4)
                near(f"{what}: preload", answer["preload_n"], preload, 1e-4)
                near(f"{what}: plastic strain", answer["plastic_strain"], strain, 1e-3)
                if answer["yields"] != (strain > 0.0):
                    sys.exit(f"{what}: yields {answer['yields']}, outside strain {strain}")
                yielded += strain > 0.0
    if yielded < 20:
        sys.exit(f"only {yielded} cases yield: the flow is hardly compared")


def main():
    (binary,) = sys.argv[1:]
    conversions(binary)
    preloads(binary)
    turns(binary)
    print(f"{checked} numbers agree")


main()
