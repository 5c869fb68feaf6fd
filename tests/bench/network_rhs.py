"""Right-hand side of a network as `baysoak check --network` writes it, in NumPy.

The formulas are those of DEVELOPERS.md ("Exported network"). The samples in the file were made by the Rust code, so a
formula that differs, or a number that the file lacks, shows. Units as in the file: SI, kelvin.
"""

import json
import math

import numpy as np

# Numbers of the formulas in DEVELOPERS.md.
COOLANT_FLOW_W_K = 4400.0  # coolant to radiator core, 2000 rpm, thermostat open
THERMOSIPHON = 0.01
STILL_KG_S = 1e-7
MOST_SQUEEZE_K = 60.0  # air in a duct, by a change of pressure


def smoothstep(x):
    x = min(max(x, 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x)


class Fit:
    """Property fits in x = T / 1000 K; scalars and arrays alike."""

    def __init__(self, cp, k, mu, range_k, reference_k):
        self.low, self.high = range_k
        self.cp_c, self.k_c, self.mu_c = cp[::-1], k[::-1], mu[::-1]
        self.h_c = [c / (i + 1) for i, c in enumerate(cp)][::-1]
        self.h0 = 0.0
        self.h0 = self.h(reference_k)

    def _x(self, t):
        if isinstance(t, np.ndarray):
            return np.clip(t, self.low, self.high) * 1e-3
        return min(max(t, self.low), self.high) * 1e-3

    @staticmethod
    def _poly(c, x):
        total = 0.0
        for a in c:
            total = total * x + a
        return total

    def cp(self, t):
        return self._poly(self.cp_c, self._x(t))

    def k(self, t):
        return self._poly(self.k_c, self._x(t))

    def mu(self, t):
        return self._poly(self.mu_c, self._x(t))

    def h(self, t):
        x = self._x(t)
        return self._poly(self.h_c, x) * x * 1e3 - self.h0 + self._poly(self.cp_c, x) * (t - x * 1e3)

    def pr(self, t):
        return self.cp(t) * self.mu(t) / self.k(t)

    def t_from_h(self, h):
        t = min(max(298.15 + h / 1100.0, 1.0), 1e4)
        for _ in range(50):
            step = (self.h(t) - h) / self.cp(t)
            t -= step
            if abs(step) < 1e-9:
                break
        return t


class Network:
    def __init__(self, path):
        with open(path, encoding="utf-8") as file:
            f = json.load(file)
        if f["network_schema"] != 4:
            raise SystemExit(f"{path}: network_schema {f['network_schema']}, this script reads 4")
        self.f = f
        c = f["constants"]
        self.sigma, self.g = c["stefan_boltzmann_w_m2_k4"], c["gravity_m_s2"]
        self.r_air, self.t0 = c["dry_air_gas_constant_j_kg_k"], c["reference_temperature_k"]
        self.p = f["pressure_pa"]
        self.air = self._fit(f["air"])
        self.n = len(f["nodes"])
        self._storage()
        self._links()
        self._openings()
        d = f["drivers"]
        self.spans = np.array(d["spans_s"])
        self.d_from, self.d_to = np.array(d["from"]), np.array(d["to"])
        self.names = d["names"]
        self.scalars = [n for n in self.names if "[" not in n]
        # columns of the drivers that are lists
        self.columns, at = [], len(self.scalars)
        for name in ("opening_kg_s", "zone_speed_m_s", "gas_through", "air_through", "surface_w_k"):
            count = sum(n.startswith(name + "[") for n in self.names)
            self.columns.append(slice(at, at + count))
            at += count
        if at != len(self.names):
            raise SystemExit(f"{path}: drivers that this script does not know")
        self.zones = self.columns[1].stop - self.columns[1].start
        self.start = np.array(f["start_k"])
        self.zone0 = f["intake"]["first_zone"]
        self.calls = 0

    def _fit(self, fits):
        return Fit(
            fits["specific_heat_j_kg_k"], fits["conductivity_w_m_k"], fits["viscosity_pa_s"], fits["range_k"], self.t0
        )

    def gas(self, phi):
        """Stoichiometric products and excess air blended by mass."""
        g = self.f["exhaust_gas"]
        ratio, lam = g["stoichiometric_ratio"], 1.0 / max(phi, 1e-6)
        w = ratio * (lam - 1.0) / (1.0 + ratio * lam) if lam > 1.0 else 0.0
        a, b = g["products"], g["air"]
        mix = lambda key: [(1.0 - w) * x + w * y for x, y in zip(a[key], b[key])]
        keys = ("specific_heat_j_kg_k", "conductivity_w_m_k", "viscosity_pa_s")
        return Fit(*map(mix, keys), a["range_k"], self.t0)

    def _storage(self):
        nodes = self.f["nodes"]
        self.c_const = np.array([x["constant_j_k"] for x in nodes])
        self.c_air = np.array([x["air_kg"] for x in nodes])
        self.solids = []
        for name, points in self.f["materials"].items():
            mass = np.array([sum(kg for kg, m in x["solids"] if m == name) for x in nodes])
            idx = np.nonzero(mass)[0]
            t, v = np.array(points).T
            self.solids.append((idx, mass[idx], t, v))

    def _links(self):
        groups = {}
        for link in self.f["links"]:
            key = link["law"] + (":" + link["shape"] if "shape" in link else "")
            groups.setdefault(key, []).append(link)
        column = lambda ls, k: np.array([x[k] for x in ls])
        self.groups = {}
        for key, ls in groups.items():
            numbers = {k for k, v in ls[0].items() if isinstance(v, (int, float))}
            arrays = {k: column(ls, k) for k in numbers}
            self.groups[key] = arrays
        known = {"conductance", "layer", "convection:cylinder", "convection:plate", "gap", "pumped"}
        if set(self.groups) - known:
            raise SystemExit(f"unknown laws: {sorted(set(self.groups) - known)}")
        # conductances of surfaces in air are drivers: cylinders, then plates
        count = [len(groups.get("convection:" + shape, [])) for shape in ("cylinder", "plate")]
        self.surfaces = {
            "convection:cylinder": slice(0, count[0]),
            "convection:plate": slice(count[0], sum(count)),
        }
        # radiation as a matrix on fourth powers: boundaries are among the columns
        size = self.n + len(self.f["boundaries"])
        self.rad = np.zeros((size, size))
        for x in self.f["radiation"]:
            a, b, w = x["from"], x["to"], self.sigma * x["area_m2"]
            self.rad[a, a] -= w
            self.rad[b, b] -= w
            self.rad[a, b] += w
            self.rad[b, a] += w

    def _openings(self):
        zone = lambda z: -1 if z is None else z
        os = self.f["openings"]
        self.o_from = np.array([zone(o["from_zone"]) for o in os])
        self.o_to = np.array([zone(o["to_zone"]) for o in os])
        self.o_front = np.array([o["pressure_coefficient"] > 0.0 for o in os])

    def drivers(self, span, t):
        """Drivers at time `t` within span number `span`: linear between its ends."""
        t0, t1 = self.spans[span]
        w = min(max((t - t0) / (t1 - t0), 0.0), 1.0) if t1 > t0 else 0.0
        row = self.d_from[span] + w * (self.d_to[span] - self.d_from[span])
        s = dict(zip(self.scalars, row.tolist()))
        flows, speeds, gas_through, air_through, surface_w_k = (row[c] for c in self.columns)
        return s, flows, speeds, gas_through.tolist(), air_through.tolist(), surface_w_k

    def capacity(self, t):
        c = self.c_const + self.c_air * self.air.cp(t)
        for idx, mass, points, values in self.solids:
            c[idx] += mass * np.interp(t[idx], points, values)
        return c

    def rates(self, span, time_s, y):
        """dT/dt [K/s] at temperatures `y` [K]."""
        self.calls += 1
        s, flows, speeds, gas_through, air_through, surface_w_k = self.drivers(span, time_s)
        t = np.concatenate([y, [s[b + "_k"] for b in self.f["boundaries"]]])
        heat = self.rad @ t**4
        self._add_links(s, surface_w_k, t, heat)
        # plain floats are faster than NumPy scalars in the marches
        scalar = t.tolist()
        lone = [0.0] * len(scalar)
        onward, valve_k, compressor_w = self._intake(s, flows, air_through, scalar, lone)
        self._exhaust(s, gas_through, scalar, lone, valve_k, compressor_w)
        engine = self.f["engine"]
        lone[engine["block"]] += s["cylinder_heat_w"] + 0.5 * s["friction_w"]
        lone[engine["oil"]] += 0.5 * s["friction_w"]
        for node, w in self.f["sun_w"]:
            lone[node] += w
        self._airflow(s, flows.tolist(), speeds, scalar, lone)
        self._radiator(s, flows, scalar, lone, onward)
        heat += lone
        return heat[: self.n] / self.capacity(y)

    def _add_links(self, s, surface_w_k, t, heat):
        for law, g in self.groups.items():
            a, b = g["from"], g["to"]
            ta, tb = t[a], t[b]
            film = 0.5 * (ta + tb)
            if law == "conductance":
                q = g["w_k"] * (ta - tb)
            elif law == "layer":
                k0 = g["k0_w_m_k"]
                q = g["shape_m"] * np.maximum(k0 + g["k1_w_m_k2"] * (film - 300.0), 0.2 * k0) * (ta - tb)
            elif law == "pumped":
                q = (g["still_w_k"] + g["running_w_k"] * s["pump"]) * (ta - tb)
            elif law == "gap":
                ra, pr, _, k = self._groups(film, ta - tb, g["effective_m"])
                ratio = 0.386 * (pr / (0.861 + pr)) ** 0.25 * ra**0.25
                q = k * np.maximum(ratio, 1.0) * g["shape_m"] * (ta - tb)
            else:
                q = surface_w_k[self.surfaces[law]] * (ta - tb)
            heat -= np.bincount(a, q, len(heat))
            heat += np.bincount(b, q, len(heat))

    def _groups(self, film, difference, length):
        """Rayleigh and Prandtl number, kinematic viscosity, conductivity of air at film temperature."""
        nu = self.air.mu(film) * self.r_air * film / self.p
        pr = self.air.pr(film)
        ra = self.g * np.abs(difference) / film * length**3 * pr / nu**2
        return ra, pr, nu, self.air.k(film)

    def _pass(self, flow, t, wall, through):
        """Air past a wall: outlet temperature and heat from the wall."""
        out = wall + (t - wall) * through
        return out, flow * (self.air.h(out) - self.air.h(t))

    def _intake(self, s, flows, through, t, heat):
        i, air = self.f["intake"], self.air
        m = s["air_kg_s"]
        stand = s["pickup_standing"]
        zone = lambda z: t[self.zone0 + z]
        h = (1.0 - stand) * i["pickup_outside"] * air.h(s["ambient_k"])
        h += sum((1.0 - stand) * share * air.h(zone(z)) for z, share in i["pickup_zones"])
        x = air.t_from_h(h + stand * air.h(zone(i["standing_zone"])))
        pickup_k, cooler, compressor_w = x, i["cooler"], 0.0
        after = {}
        housing_through, core_through, port_through = through[len(i["ducts"]) :]
        moving = m >= STILL_KG_S
        # pressure changes in the pieces of each place
        rise_pa_s = {
            "before_compressor": 0.0,
            "hot_side": s["boost_rate_pa_s"],
            "cold_side": s["boost_rate_pa_s"],
            "plenum": s["plenum_rate_pa_s"],
        }

        def ducts(place, x):
            for n, d in enumerate(i["ducts"]):
                if d["place"] != place:
                    continue
                if moving:
                    x, w = self._pass(m, x, t[d["wall"]], through[n])
                    heat[d["wall"]] -= w
                    by_k = d["volume_m3"] * rise_pa_s[place] / (m * air.cp(x))
                    x += min(max(by_k, -MOST_SQUEEZE_K), MOST_SQUEEZE_K)
                else:
                    x = t[d["wall"]]
                after[n] = x
            return x

        x = ducts("before_compressor", x)
        if i["compressor"]:
            housing, _ = i["compressor"]
            if moving:
                hot = x * (1.0 + s["compression_rise"])
                compressor_w = m * (air.h(hot) - air.h(x))
                x, w = self._pass(m, hot, t[housing], housing_through)
                heat[housing] -= w
            else:
                x = t[housing]
        elif not moving:
            x = pickup_k
        ahead = x
        x = ducts("hot_side", x)
        if not moving:
            x = ahead
        if cooler:
            for node in cooler["core"]:
                if moving:
                    x, w = self._pass(m, x, t[node], core_through)
                    heat[node] -= w
                else:
                    x = t[node]
        out = x
        x = ducts("plenum", ducts("cold_side", x))
        node, _ = i["port"]
        if moving:
            x, w = self._pass(m, x, t[node], port_through)
            heat[node] -= w
        else:
            x = t[node]
        valve_k = x
        onward = self._cool_core(s, flows, t, heat) if cooler else 0.0
        # sensor in the duct's air
        sensor_air = out if i["sensor_after"] is None else after[i["sensor_after"]]
        bores = [d["bore_m"] for d in i["ducts"]]
        bore = bores[i["sensor_after"]] if i["sensor_after"] is not None else (bores[-1] if bores else 0.06)
        v = m * self.r_air * sensor_air / (self.p * 0.25 * math.pi * bore * bore)
        w = i["sensor_air_w_k"] * max(math.sqrt(v / 10.0), 0.08) * (sensor_air - t[i["sensor"]])
        heat[i["sensor"]] += w + i["sensor_film_w"]
        heat[i["sensor_wall"]] -= w
        return onward, valve_k, compressor_w

    def _cool_core(self, s, flows, t, heat):
        c = self.f["intake"]["cooler"]
        z0, m, share = self.zone0, s["cooler_air_kg_s"], s["cooler_bay_share"]
        air_k = share * t[z0 + c["from_zone"]] + (1.0 - share) * s["ambient_k"]
        onward = min(max(flows[self.f["radiator"]["opening"]], 0.0) / max(m, 1e-9), 1.0)
        if c["kind"] == "water" and c["water"] is not None:
            water = c["water"]
            pump = 0.05 + 0.95 * s["cooler_pump"]
            for node in c["core"]:
                w = c["air_w_k"] * pump / len(c["core"]) * (t[node] - t[water])
                heat[node] -= w
                heat[water] += w
            total = s["cooler_w_k"] * (t[water] - air_k)
            heat[water] -= total
        else:
            g, total = s["cooler_w_k"] / len(c["core"]), 0.0
            for node in c["core"]:
                w = g * (t[node] - air_k)
                heat[node] -= w
                total += w
        heat[z0 + c["to_zone"]] += onward * total
        heat[z0 + c["from_zone"]] += (1.0 - onward) * total
        return 0.0 if c["kind"] == "top" else onward * total

    def _airflow(self, s, flows, speeds, t, heat):
        air, z0 = self.air, self.zone0
        h_amb = air.h(s["ambient_k"])
        h_zone = [air.h(t[z0 + z]) for z in range(self.zones)]
        leaving, leaving_h = 1e-9, 1e-9 * h_amb
        ends = list(zip(self.o_from.tolist(), self.o_to.tolist(), self.o_front.tolist()))
        for (a, b, _), m in zip(ends, flows):
            z = a if b < 0 and m > 0.0 else b if a < 0 and m < 0.0 else -1
            if z >= 0:
                leaving += abs(m)
                leaving_h += abs(m) * h_zone[z]
        h_back = leaving_h / leaving
        for (a, b, front), m in zip(ends, flows):
            source, sink = (a, b) if m >= 0.0 else (b, a)
            if sink < 0:
                continue
            h = h_zone[source] if source >= 0 else h_amb + (s["recirculation"] * (h_back - h_amb) if front else 0.0)
            heat[z0 + sink] += abs(m) * (h - h_zone[sink])
        mixing = self.f["mixing"]
        for o in mixing["openings"]:
            a, b, _ = ends[o]
            v = mixing["share"] * 0.5 * (speeds[a] + speeds[b]) + mixing["still_m_s"]
            density = self.p / (self.r_air * s["ambient_k"])
            m = max(density * self.f["openings"][o]["area_m2"] * v - abs(flows[o]), 0.0)
            w = m * (h_zone[a] - h_zone[b])
            heat[z0 + a] -= w
            heat[z0 + b] += w

    def _radiator(self, s, flows, t, heat, onward):
        r, z0 = self.f["radiator"], self.zone0
        o, m = r["opening"], float(flows[r["opening"]])
        source, sink = (self.o_from[o], self.o_to[o]) if m >= 0.0 else (self.o_to[o], self.o_from[o])
        coolant, core = t[r["coolant"]], t[r["core"]]
        low, full = r["thermostat_k"]
        drive = COOLANT_FLOW_W_K * (s["pump"] + THERMOSIPHON)
        w = drive * smoothstep((coolant - low) / (full - low)) * (coolant - core)
        heat[r["coolant"]] -= w
        heat[r["core"]] += w
        m = abs(m)
        if m > 1e-6:
            air_k = t[z0 + source] if source >= 0 else s["ambient_k"]
            air_k += max(onward, 0.0) / (m * self.air.cp(air_k))
            w = s["radiator_w_k"] * (core - air_k)
            heat[r["core"]] -= w
            if sink >= 0:
                heat[z0 + sink] += w
        heat[r["coolant"]] -= s["cabin_heater_w_k"] * (coolant - s["ambient_k"])

    def _exhaust(self, s, through, t, heat, valve_k, compressor_w):
        e, m = self.f["exhaust"], s["exhaust_kg_s"]
        if m < STILL_KG_S:
            return
        gas = self.gas(s["phi"])
        port = gas.t_from_h((s["gas_heat_w"] + s["air_kg_s"] * self.air.h(valve_k)) / m)
        turbine_w = compressor_w / e["mechanical_efficiency"] if e["mechanical_efficiency"] else 0.0
        branch, split = [port] * 3, False
        for seg, left_behind in zip(e["segments"], through):
            b = seg["branch"]
            if b == 0 and split:
                branch[0] = gas.t_from_h(0.5 * (gas.h(branch[1]) + gas.h(branch[2])))
                split = False
            elif b and not split:
                branch[1] = branch[2] = branch[0]
                split = True
            share = 0.5 if b else 1.0
            flow, x, wall = m * share, branch[b], t[seg["wall"]]
            out = wall + (x - wall) * left_behind
            h = gas.h(out)
            heat[seg["wall"]] += flow * (gas.h(x) - h)
            if seg["kind"] == "turbine" and seg["last"] and turbine_w > 0.0:
                out = gas.t_from_h(h - turbine_w * share / flow)
            branch[b] = out
        if e["bearing"] is not None:
            heat[e["bearing"]] += turbine_w - compressor_w
        left = [s["unburnt_w"], 0.5 * s["unburnt_w"], 0.5 * s["unburnt_w"]]
        for brick in e["bricks"]:
            b = brick["branch"]
            hot = smoothstep((t[brick["node"]] - 523.0) / 100.0)
            burnt = brick["conversion"] * s["catalyst_burn"] * hot * left[b]
            heat[brick["node"]] += burnt
            left[b] -= burnt
            if b == 0:
                left[1] = left[2] = 0.5 * left[0]
            else:
                left[0] = left[1] + left[2]

    def check(self):
        """Largest relative miss of a rate at the file's samples, and where."""
        worst, where = 0.0, ""
        for sample in self.f["samples"]:
            want = np.array(sample["rate_k_s"])
            got = self.rates(sample["span"], sample["time_s"], np.array(sample["node_k"]))
            # a rate is a difference of large heat flows: 1e-3 K/s is the least that counts
            miss = np.abs(got - want) / np.maximum(np.abs(want), 1e-3)
            i = int(np.argmax(miss))
            if miss[i] > worst:
                name = self.f["nodes"][i]["name"]
                worst, where = float(miss[i]), f"{name} at {sample['time_s']:.1f} s: {got[i]:.9g} against {want[i]:.9g} K/s"
        return worst, where
