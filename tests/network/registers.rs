//! The widest registers of this machine give the numbers of the oldest: which ones there are is found when the program runs.

use baysoak::network::rates::Scratch;
use baysoak::solve::System;
use baysoak::study::recording::record;

use super::*;

/// Called by itself, a circuit's rates are built for the oldest machine; a plant calls them with the widest registers.
#[test]
fn rates_are_the_same_in_the_widest_registers_and_in_the_oldest() {
    for (name, sheet) in cars() {
        let cycle = baysoak::cycle::Builtin::SoakRestart.cycle().unwrap();
        let build = settled(&sheet).build;
        let recording = record(&build, &cycle, &RunOptions::default()).unwrap();
        let network = &recording.network;
        let mut plant = Plant::new(network);
        let mut scratch = Scratch::default();
        let mut wide = vec![0.0; network.states()];
        let mut old = wide.clone();
        for (drive, y) in recording.drives.iter().zip(&recording.states) {
            drive.set(&mut plant);
            let middle_s = 0.5 * (drive.span_s.0 + drive.span_s.1);
            plant.rates(middle_s, y, &mut wide);
            network
                .circuit
                .rates(plant.now(), y, &mut old, &mut scratch);
            assert_eq!(wide, old, "{name} at {middle_s} s");
        }
    }
}
