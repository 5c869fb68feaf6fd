//! Where correlations were used outside their published range, and for how long.

use std::collections::BTreeMap;

use crate::network::conditions::Conditions;
use crate::network::rates::{Circuit, Network};
use crate::network::surfaces::SurfaceScratch;
use crate::physics::range::{Range, RangeCheck};

/// Times outside ranges, by correlation and place.
#[derive(Debug, Default)]
pub struct RangeLog<'a> {
    outside: BTreeMap<(&'static str, &'a str), Outside>,
    surfaces: SurfaceScratch,
}

/// One entry.
#[derive(Debug, Clone, Copy)]
struct Outside {
    range: Range,
    seconds: f64,
    /// Value furthest from the range, and the limit it passed.
    worst: f64,
    limit: f64,
    /// Time of the last note [s]: segments of one part count once.
    noted_s: f64,
}

impl<'a> RangeLog<'a> {
    /// Notes a value that held for some seconds.
    pub fn note(
        &mut self,
        range: &Range,
        place: &'a str,
        value: f64,
        (time_s, seconds): (f64, f64),
    ) {
        let (value, limit) = match range.check(value) {
            RangeCheck::Inside => return,
            RangeCheck::Below { value, limit } | RangeCheck::Above { value, limit } => {
                (value, limit)
            }
        };
        let entry = self.outside.entry((range.name, place)).or_insert(Outside {
            range: *range,
            seconds: 0.0,
            worst: value,
            limit,
            noted_s: f64::NEG_INFINITY,
        });
        if time_s > entry.noted_s {
            entry.seconds += seconds;
            entry.noted_s = time_s;
        }
        if (value - limit).abs() > (entry.worst - entry.limit).abs() {
            (entry.worst, entry.limit) = (value, limit);
        }
    }

    /// Notes all surfaces in air at node temperatures.
    pub fn note_surfaces(
        &mut self,
        network: &'a Network,
        c: &Conditions,
        node_k: &[f64],
        at: (f64, f64),
    ) {
        let mut scratch = std::mem::take(&mut self.surfaces);
        let Circuit {
            surfaces,
            pressure_pa,
            ..
        } = &network.circuit;
        let see = |i: usize, range: &'static Range, value| {
            let node = network.nodes.get(network.links[surfaces.links()[i]].from);
            let place = node.map_or("", |n| n.name.as_str());
            self.note(range, place.split('/').next().unwrap_or(place), value, at);
        };
        surfaces.see_ranges(c, *pressure_pa, node_k, &mut scratch, see);
        self.surfaces = scratch;
    }

    /// Warnings in words, the longest first.
    pub fn warnings(&self, duration_s: f64) -> Vec<String> {
        let mut entries: Vec<_> = self.outside.iter().collect();
        entries.sort_by(|a, b| b.1.seconds.total_cmp(&a.1.seconds));
        entries
            .into_iter()
            .map(|((name, place), o)| {
                let side = if o.worst > o.limit { "above" } else { "below" };
                format!(
                    "{name} used outside its range at {place}: {} {:.3e} {side} {:.3e}, {:.0} % of the cycle ({})",
                    o.range.quantity,
                    o.worst,
                    o.limit,
                    (100.0 * o.seconds / duration_s).max(1.0),
                    o.range.source
                )
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_excursion_is_reported_with_place_value_and_limit() {
        let range = Range {
            name: "some fit",
            quantity: "Re",
            min: 10.0,
            max: 1e4,
            source: "somebody 1900",
        };
        let mut log = RangeLog::default();
        log.note(&range, "pipe", 5e3, (0.0, 50.0));
        assert!(log.warnings(100.0).is_empty());
        log.note(&range, "pipe", 2e4, (50.0, 20.0));
        // another segment of the same pipe at the same time
        log.note(&range, "pipe", 1.5e4, (50.0, 20.0));
        log.note(&range, "pipe", 3e4, (70.0, 5.0));
        let warnings = log.warnings(100.0);
        assert_eq!(warnings.len(), 1);
        for part in [
            "some fit",
            "pipe",
            "3.000e4",
            "above 1.000e4",
            "25 %",
            "somebody 1900",
        ] {
            assert!(warnings[0].contains(part), "{part} not in {}", warnings[0]);
        }
    }
}
