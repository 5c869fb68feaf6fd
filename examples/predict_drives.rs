//! wip
use std::path::PathBuf;

use baysoak::cycle::{LogOptions, Role, import};
use baysoak::sheet::{Chooser, Sheet};
use baysoak::study::fit::{Channel, Drive, FitOptions, Watched, fit, judge, together};
use rayon::prelude::*;

fn main() {
    let folder = std::env::var("BAYSOAK_LOGS").unwrap();
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().path()).filter(|p| p.extension().is_some_and(|e| e == "csv")).collect();
    files.sort();
    let path = std::env::args().nth(1).unwrap_or("tests/measured/turbo-diesel.toml".into());
    let train: Vec<usize> = std::env::args().nth(2).unwrap_or_default().split(',').filter_map(|s| s.parse().ok()).collect();
    let keys: Vec<String> = std::env::args().nth(3).unwrap_or_default().split(',').filter(|s| !s.is_empty()).map(String::from).collect();
    let starts: usize = std::env::args().nth(4).and_then(|s| s.parse().ok()).unwrap_or(1);
    let rounds: usize = std::env::args().nth(5).and_then(|s| s.parse().ok()).unwrap_or(1);
    let sheet = Sheet::parse(&std::fs::read_to_string(&path).unwrap(), &path).unwrap_or_else(|e| panic!("{e}"));
    let dump = std::env::var("DUMP").ok();
    let with_coolant = std::env::var("COOLANT").is_ok();
    let t0 = std::time::Instant::now();
    let drives: Vec<Drive> = files.par_iter().map(|f| {
        let logged = import(&std::fs::read(f).unwrap(), "log", &LogOptions::default()).unwrap_or_else(|e| panic!("{e}"));
        let channels = logged.channels.iter().filter_map(|c| {
            let watched = match c.role { Role::Sensor => Watched::Sensor, Role::Coolant if with_coolant => Watched::Coolant, _ => return None };
            Some(Channel { watched, time_s: c.time_s.clone(), value_k: c.value_k.clone(), usable: c.usable.clone() })
        }).collect();
        Drive { name: f.file_name().unwrap().to_string_lossy().into(), cycle: logged.cycle, channels, coolant_start_k: logged.coolant_start_k }
    }).collect();
    let mut values = Default::default();
    if !train.is_empty() {
        let of: Vec<&Drive> = train.iter().map(|&i| &drives[i - 1]).collect();
        let options = FitOptions { inputs: keys, starts, rounds, ..Default::default() };
        let f = fit(&sheet, &of, &options, &mut |s| eprintln!("{:.0?} {s}", t0.elapsed())).unwrap_or_else(|e| panic!("{e}"));
        for i in &f.inputs { println!("  {} = {:.4} +- {:.4} (was {} {} {}) left {:.2}", i.key, i.value, i.standard_error, i.low, i.likely, i.high, i.left); }
        println!("{:?} {:?} settled {} costs {:?} evals {}", f.alike, f.spreads, f.settled, f.costs, f.evaluations);
        values = f.values();
    }
    let build = sheet.settle(&mut Chooser::Given(&values)).unwrap().build;
    let pairs: Vec<(&Drive, bool)> = drives.iter().enumerate().map(|(i, d)| (d, !train.contains(&(i + 1)))).collect();
    let scores = judge(&build, &pairs).unwrap();
    for (s, d) in scores.iter().zip(&drives) {
        print!("{}{} {:.2} ({:+.2}) soak {:.0}; ", &s.name[6..8], if s.held_out { "" } else { "*" }, s.sensor.rmse_k, s.sensor.bias_k, s.prediction.soak_k);
        if let Some(dir) = &dump {
            let c = &d.channels[0];
            let mut t = String::from("t,meas,model,ok\n");
            for i in 0..c.time_s.len() { t += &format!("{},{},{},{}\n", c.time_s[i], c.value_k[i] - 273.15, s.prediction.channels[0][i] - 273.15, u8::from(c.usable[i])); }
            std::fs::write(format!("{dir}/{}", d.name), t).unwrap();
        }
    }
    println!();
    for held in [false, true] {
        let (all, middle) = together(scores.iter().filter(|s| s.held_out == held).map(|s| &s.sensor));
        println!("held out {held}: {:.3} bias {:.2} median {middle:.3} n {}", all.rmse_k, all.bias_k, all.samples);
    }
    let (all, middle) = together(scores.iter().map(|s| &s.sensor));
    println!("all {:.3} median {middle:.3} in {:.0?}", all.rmse_k, t0.elapsed());
}
