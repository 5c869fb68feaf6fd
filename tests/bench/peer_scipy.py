#!/usr/bin/env python3
"""Checks an exported network against its samples, then integrates it with SciPy.

    baysoak check SHEET --network network.json
    python3 peer_scipy.py network.json --check
    python3 peer_scipy.py network.json --until 600

Exit code 1 if the rebuilt right-hand side misses a sample by more than 1e-6.
"""

import argparse
import json
import sys
import time

import numpy as np

from network_rhs import Network

LIMIT = 1e-6


def march(network, method, rtol, atol, until):
    """Integrates span by span, since the drivers have kinks at the ends of spans."""
    from scipy.integrate import solve_ivp

    y, states, calls, steps = network.start.copy(), [], network.calls, 0
    began = time.perf_counter()
    first = None
    for span, (t0, t1) in enumerate(network.spans):
        if t0 >= until:
            break
        if t1 > t0:
            rates = lambda t, y, span=span: network.rates(span, t, y)
            step = None if first is None else min(first, t1 - t0)
            r = solve_ivp(rates, (t0, t1), y, method=method, rtol=rtol, atol=atol, first_step=step)
            if not r.success:
                raise SystemExit(f"{method}: {r.message} at {t0} s")
            y, first = r.y[:, -1], max(r.t[-1] - r.t[-2], 1e-3)
            steps += len(r.t) - 1
        states.append(y)
    return np.array(states), time.perf_counter() - began, network.calls - calls, steps


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("network")
    parser.add_argument("--check", action="store_true", help="only check the right-hand side")
    parser.add_argument("--until", type=float, default=600.0, help="seconds of the cycle [600]")
    parser.add_argument("--methods", default="LSODA,BDF")
    parser.add_argument("--reference", help="JSON list of states at the ends of spans, else Radau at 1e-7 K")
    args = parser.parse_args()
    network = Network(args.network)
    worst, where = network.check()
    count = len(network.f["samples"])
    print(f"right-hand side: {network.n} nodes, {count} samples, largest miss {worst:.2e} ({where})")
    if not worst <= LIMIT:
        print(f"above {LIMIT}: the export lacks something, or a formula differs", file=sys.stderr)
        return 1
    if args.check:
        return 0
    y, n = network.start.copy(), 200
    began = time.perf_counter()
    for _ in range(n):
        network.rates(0, 0.0, y)
    print(f"one right-hand side: {(time.perf_counter() - began) / n * 1e6:.0f} us")
    if args.reference:
        with open(args.reference, encoding="utf-8") as file:
            reference = np.array(json.load(file))
    else:
        reference = march(network, "Radau", 1e-9, 1e-6, args.until)[0]
    print(f"{'method':8}{'s':>9}{'calls':>9}{'steps':>8}{'max K':>11}{'RMS K':>11}")
    for method in args.methods.split(","):
        states, seconds, calls, steps = march(network, method, 1e-12, 0.02, args.until)
        miss = states - reference[: len(states), : network.n]
        print(f"{method:8}{seconds:9.2f}{calls:9}{steps:8}{np.abs(miss).max():11.2e}{np.sqrt((miss**2).mean()):11.2e}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
