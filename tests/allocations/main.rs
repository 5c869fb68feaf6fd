//! What a march asks of the heap. In a program of its own, since the counting allocator serves all of it.

use baysoak::cycle::Builtin;
use baysoak::network::plant::Plant;
use baysoak::sheet::{Chooser, builtin};
use baysoak::solve::Integrator;
use baysoak::study::recording::record;
use baysoak::study::run::RunOptions;

#[global_allocator]
static COUNTING: dhat::Alloc = dhat::Alloc;

#[test]
fn once_under_way_a_march_asks_the_heap_for_nothing() {
    let options = RunOptions::default();
    for name in ["demo", "v8", "tow-diesel"] {
        let settled = builtin(name).unwrap().settle(&mut Chooser::Likely).unwrap();
        let cycle = Builtin::SoakRestart.cycle().unwrap();
        let recording = record(&settled.build, &cycle, &options).unwrap();
        let mut plant = Plant::new(&recording.network);
        let mut integrator = Integrator::new(options.method, options.tolerance);
        let mut y = recording.states[0].clone();
        let profiler = dhat::Profiler::builder().testing().build();
        let blocks = || dhat::HeapStats::get().total_blocks;
        let (mut steps, mut asked) = (0, 0);
        for (i, drive) in recording.drives.iter().enumerate() {
            drive.set(&mut plant);
            let (start_s, end_s) = drive.span_s;
            let (blocks_before, steps_before) = (blocks(), integrator.work().steps);
            integrator
                .advance(&mut plant, start_s, end_s, &mut y)
                .unwrap();
            // the first interval makes the work space
            if i > 0 {
                asked += blocks() - blocks_before;
                steps += integrator.work().steps - steps_before;
            }
        }
        drop(profiler);
        assert_eq!(asked, 0, "blocks of {name} in {steps} steps");
        assert!(steps > 1000, "{name}: {steps}");
    }
}
