//! From tick to tick: what goes on from the one before, what is settled afresh, and how long ticks may be.

use baysoak::cycle::Builtin;

use super::*;

/// A tick of 5 s from `start_s`, driven evenly.
fn tick(start_s: f64, kmh: f64) -> Interval {
    let demand = Demand {
        speed_m_s: kmh / 3.6,
        ..Builtin::Motorway.cycle().unwrap().at(0.0).unwrap()
    };
    Interval {
        start_s,
        end_s: start_s + 5.0,
        phase: 0,
        from: demand,
        to: demand,
    }
}

/// Conditions at both ends of a second tick, and at the end of the first; `warmed` changes the state in between.
fn second(
    (first, second): (Interval, Interval),
    beginning: Beginning,
    warmed: impl Fn(&Network, &mut [f64]),
) -> [Conditions; 3] {
    let build = demo();
    let network = assemble(&build, Detail::default()).unwrap();
    let mut controller = Controller::new(&build);
    let mut y = warm_start(&build, &network);
    // the fan rests
    y[network.circuit.roles.coolant] = 350.0;
    let (mut from, mut to) = (Conditions::default(), Conditions::default());
    let mut settle = |interval: &Interval, y: &[f64]| {
        controller.settle(&network, (interval, beginning), y, (&mut from, &mut to));
        (from.clone(), to.clone())
    };
    let (_, left) = settle(&first, &y);
    warmed(&network, &mut y);
    let (from, to) = settle(&second, &y);
    [left, from, to]
}

fn hotter_walls(network: &Network, y: &mut [f64]) {
    for segment in &network.circuit.segments {
        y[segment.wall] += 300.0;
    }
}

#[test]
fn an_even_drive_goes_on_as_the_tick_before_has_ended() {
    let ticks = (tick(0.0, 100.0), tick(5.0, 100.0));
    let [left, from, to] = second(ticks, Beginning::Continued, hotter_walls);
    assert_eq!(from.gas_through, left.gas_through);
    assert_eq!(from.surface_w_k, left.surface_w_k);
    assert_eq!(from.opening_kg_s, left.opening_kg_s);
    // the end looks at what has happened since
    assert!(to.surface_w_k != left.surface_w_k);
    // asked for afresh, the start does too
    let [left, from, _] = second(ticks, Beginning::Afresh, hotter_walls);
    assert!(from.surface_w_k != left.surface_w_k);
}

#[test]
fn what_jumps_between_two_ticks_is_settled_afresh() {
    // another speed
    let ticks = (tick(0.0, 100.0), tick(5.0, 120.0));
    let [left, from, _] = second(ticks, Beginning::Continued, |_, _| {});
    assert!(from.scalars.exhaust_kg_s > 1.1 * left.scalars.exhaust_kg_s);
    // a gap in time
    let ticks = (tick(0.0, 100.0), tick(6.0, 100.0));
    let [left, from, _] = second(ticks, Beginning::Continued, hotter_walls);
    assert!(from.surface_w_k != left.surface_w_k);
    // a fan that switches
    let ticks = (tick(0.0, 100.0), tick(5.0, 100.0));
    let boiling = |network: &Network, y: &mut [f64]| y[network.circuit.roles.coolant] = 395.0;
    let [left, from, _] = second(ticks, Beginning::Continued, boiling);
    assert_eq!((left.scalars.fan, from.scalars.fan), (0.0, 1.0));
}

/// Power follows the cube of the speed and jumps with the gears, drivers are straight lines between the ends of a tick: on
/// the track, the liveliest drive, no metal peaks more than 4 K away from where it does with ticks of half a second.
#[test]
fn ticks_are_short_enough_for_a_track() {
    let cycle = Builtin::Track.cycle().unwrap();
    let half = cycle.intervals(0.5);
    for (name, sheet) in cars() {
        let build = settled(&sheet).build;
        let network = assemble(&build, Detail::default()).unwrap();
        let nodes = network.nodes.len();
        let peaks = |intervals: &[Interval]| {
            let mut y = warm_start(&build, &network);
            let mut peaks = vec![0.0_f64; nodes];
            let method = (Method::Rosenbrock, 0.05);
            march(&build, &network, intervals, &mut y, method, |_, y| {
                let each = peaks.iter_mut().zip(y);
                each.for_each(|(peak, &k)| *peak = peak.max(k));
            });
            peaks
        };
        let exact = peaks(&half);
        let off = |intervals: &[Interval]| {
            let found = peaks(intervals);
            let metals = (0..nodes).filter(|&i| network.nodes[i].name.starts_with("metal:"));
            let apart = metals.map(|i| (found[i] - exact[i]).abs());
            apart.fold(0.0, f64::max)
        };
        let (ticks, long) = (off(&cycle.ticks()), off(&cycle.intervals(5.0)));
        assert!(ticks < 4.0, "{name}: {ticks:.2} K");
        assert!(
            ticks < long,
            "{name}: {ticks:.2} K, ticks of 5 s {long:.2} K"
        );
    }
}
