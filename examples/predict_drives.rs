use std::path::PathBuf;

use baysoak::cycle::{LogOptions, Role, import};
use baysoak::sheet::{Chooser, Sheet};
use baysoak::study::fit::{Channel, Drive, Watched, predict};
use rayon::prelude::*;

fn main() {
    let folder = std::env::var("BAYSOAK_LOGS").unwrap();
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().path()).filter(|p| p.extension().is_some_and(|e| e == "csv")).collect();
    files.sort();
    let path = std::env::args().nth(1).unwrap_or("tests/measured/turbo-diesel.toml".into());
    let sheet = Sheet::parse(&std::fs::read_to_string(&path).unwrap(), &path).unwrap_or_else(|e| panic!("{e}"));
    let build = sheet.settle(&mut Chooser::Likely).unwrap().build;
    let dump = std::env::var("DUMP").ok();
    let t0 = std::time::Instant::now();
    let rows: Vec<(String, f64, f64, usize)> = files.par_iter().map(|f| {
        let logged = import(&std::fs::read(f).unwrap(), "log", &LogOptions::default()).unwrap_or_else(|e| panic!("{e}"));
        let channels = logged.channels.iter().filter_map(|c| {
            let watched = match c.role { Role::Sensor => Watched::Sensor, Role::Coolant => Watched::Coolant, _ => return None };
            Some(Channel { watched, time_s: c.time_s.clone(), value_k: c.value_k.clone(), usable: c.usable.clone() })
        }).collect();
        let drive = Drive { name: f.file_name().unwrap().to_string_lossy().into(), cycle: logged.cycle, channels, coolant_start_k: logged.coolant_start_k };
        if dump.is_some() && drive.name.contains("01") { println!("{:#?}", logged.report); }
        let p = predict(&build, &drive, None).unwrap();
        if let Some(d) = &dump {
            let mut s = String::from("t,meas,model,ok\n");
            let ch = drive.channels.iter().position(|c| c.watched == Watched::Sensor).unwrap();
            let c = &drive.channels[ch];
            for i in 0..c.time_s.len() { s += &format!("{},{},{},{}\n", c.time_s[i], c.value_k[i]-273.15, p.channels[ch][i]-273.15, u8::from(c.usable[i])); }
            std::fs::write(format!("{d}/{}", drive.name), s).unwrap();
            let ch = drive.channels.iter().position(|c| c.watched == Watched::Coolant).unwrap();
            let c = &drive.channels[ch];
            let mut s = String::from("t,meas,model\n");
            for i in 0..c.time_s.len() { s += &format!("{},{},{}\n", c.time_s[i], c.value_k[i]-273.15, p.channels[ch][i]-273.15); }
            std::fs::write(format!("{d}/ect-{}", drive.name), s).unwrap();
        }
        let mut out = [0.0; 2];
        let mut n = 0;
        for (c, m) in drive.channels.iter().zip(&p.channels) {
            let mut sum = 0.0; let mut k = 0;
            for i in 0..c.time_s.len() { if c.usable[i] && c.time_s[i] > 60.0 { sum += (m[i] - c.value_k[i]).powi(2); k += 1; } }
            let at = usize::from(c.watched == Watched::Coolant);
            out[at] = sum / k as f64; if at == 0 { n = k; }
        }
        (format!("{} soak {:.1}", drive.name, p.soak_k), out[0].sqrt(), out[1].sqrt(), n)
    }).collect();
    for r in &rows { println!("{} sensor {:.2} coolant {:.2} n {}", r.0, r.1, r.2, r.3); }
    let n: usize = rows.iter().map(|r| r.3).sum();
    println!("pooled {:.3} in {:?}", (rows.iter().map(|r| r.1 * r.1 * r.3 as f64).sum::<f64>() / n as f64).sqrt(), t0.elapsed());
}
