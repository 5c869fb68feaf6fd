//! The grid, and days by the hour.

use super::{as_it_is, build, option};
use baysoak::cycle::Hour;
use baysoak::report::{csv, json};
use baysoak::study::draws::DrawSettings;
use baysoak::study::hot_day::{Cell, Grid, HotDay, Situation, by_hour, hot_day};

fn value(cell: &Cell, id: &str, place: &str) -> f64 {
    cell.figure(id, place).unwrap().value
}

fn power(cell: &Cell) -> f64 {
    value(cell, "power_percent", "density")
}

fn small() -> Grid {
    Grid {
        ambients_c: vec![20.0, 38.0],
        humidities_percent: vec![20.0, 80.0],
        altitudes_m: vec![0.0, 2000.0],
        situations: vec![Situation::Motorway],
    }
}

fn found(sheet: &str, grid: &Grid) -> HotDay {
    hot_day(&[as_it_is(&build(sheet))], grid, None, &|_| true).unwrap()
}

fn cell(day: &HotDay, altitude: f64, humidity: f64, ambient: f64) -> &Cell {
    let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
    let mut cells = day.cells.iter();
    let same = |c: &&Cell| {
        near(c.altitude_m.unwrap(), altitude)
            && near(c.humidity_percent, humidity)
            && near(c.ambient_c, ambient)
    };
    cells.find(same).unwrap()
}

#[test]
fn heat_vapour_and_height_each_cost_power() {
    for name in ["demo", "v8"] {
        let day = found(name, &small());
        assert_eq!(day.cells.len(), 8);
        let base = cell(&day, 0.0, 20.0, 20.0);
        assert!(power(cell(&day, 0.0, 20.0, 38.0)) < power(base) - 2.0);
        let (dry, humid) = (cell(&day, 0.0, 20.0, 38.0), cell(&day, 0.0, 80.0, 38.0));
        // 60 % more of 6.6 kPa is 4 % of the air
        let lost = power(dry) - power(humid);
        assert!((2.5..6.5).contains(&lost), "{name}: {lost}");
        // it costs no temperature
        let sensor = |c| value(c, "intake_c", "sensor");
        assert!((sensor(dry) - sensor(humid)).abs() < 1.5);
        assert!(power(cell(&day, 2000.0, 20.0, 20.0)) < power(base) - 3.0);
    }
}

#[test]
fn height_takes_more_from_an_engine_without_a_turbo() {
    let grid = Grid {
        ambients_c: vec![25.0],
        humidities_percent: vec![30.0],
        ..small()
    };
    let lost = |name: &str| {
        let day = found(name, &grid);
        let (low, high) = (&day.cells[0], &day.cells[1]);
        assert_eq!(high.compressor_limited, name == "demo");
        1.0 - value(high, "charge_density_kg_m3", "valve")
            / value(low, "charge_density_kg_m3", "valve")
    };
    // US Standard Atmosphere: 79.50 of 101.33 kPa are left at 2000 m, a loss of 21.5 %
    let na = lost("v8");
    assert!((0.19..0.25).contains(&na), "{na}");
    assert!(lost("demo") < 0.7 * na);
}

#[test]
fn situations_stand_in_the_order_that_drivers_know() {
    let grid = Grid {
        ambients_c: vec![30.0],
        humidities_percent: vec![30.0],
        altitudes_m: vec![0.0],
        situations: vec![
            Situation::Motorway,
            Situation::Queue,
            Situation::Restart { minutes: 10.0 },
        ],
    };
    let day = found("demo", &grid);
    let rise = |i: usize| value(&day.cells[i], "intake_rise_k", "sensor");
    assert!(rise(0) < 10.0 && rise(1) > rise(0) + 5.0 && rise(2) > rise(0) + 5.0);
    // a rolling road that is told the sensor's temperature credits the heat
    let c = &day.cells[1];
    let (room, sensor) = ("ISO 1585, room", "ISO 1585, sensor");
    let of = |place| value(c, "corrected_percent", place);
    let want = ((value(c, "intake_c", "sensor") + 273.15) / (30.0 + 273.15f64)).powf(0.6);
    assert!((of(sensor) / of(room) - want).abs() < 1e-6);
    assert!(
        c.outside_standards
            .iter()
            .any(|o| o.starts_with("SAE J1349 with the sensor"))
    );
}

#[test]
fn results_do_not_depend_on_the_number_of_threads() {
    let sheet = build("demo");
    let candidates = [as_it_is(&sheet), option(&sheet, "jacket")];
    let grid = Grid {
        ambients_c: vec![35.0],
        humidities_percent: vec![40.0],
        altitudes_m: vec![0.0],
        situations: vec![Situation::Hill],
    };
    let draws = Some(DrawSettings { draws: 10, seed: 3 });
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        let day = pool.install(|| hot_day(&candidates, &grid, draws, &|_| true).unwrap());
        let mut table = Vec::new();
        csv::write_hot_day(&day, &mut table).unwrap();
        (json::to_json(&day).unwrap(), table, day)
    };
    let (one, table, day) = with(1);
    let (three, other, _) = with(3);
    assert_eq!(one, three);
    assert_eq!(table, other);
    let bare = &day.cells[0].figures;
    assert!(
        bare.iter()
            .all(|f| f.low <= f.median && f.median <= f.high && f.low.is_some())
    );
    // what both share cancels: the band of the difference is narrower than that of the value
    let d = day.cells[1].difference("intake_c", "sensor").unwrap();
    let f = day.cells[1].figure("intake_c", "sensor").unwrap();
    let wide = |a: Option<f64>, b: Option<f64>| b.unwrap() - a.unwrap();
    assert!(wide(d.low, d.high) < 0.5 * wide(f.low, f.high));
}

#[test]
fn the_afternoon_is_worst_and_the_air_of_each_hour_is_used() {
    let hour = |hour: f64, ambient_c: f64, sun: f64| Hour {
        hour,
        ambient_c,
        humidity_percent: 30.0,
        pressure_kpa: Some(100.0),
        sun_w_m2: Some(sun),
        wind_m_s: Some(1.0),
    };
    let hours = [hour(4.0, 18.0, 0.0), hour(14.0, 36.0, 850.0)];
    let candidates = [as_it_is(&build("demo"))];
    let day = by_hour(&candidates, &[Situation::Queue], &hours, None, &|_| true).unwrap();
    assert!(day.by_hour);
    assert_eq!(day.cells[1].day, "14:00");
    assert!((day.cells[1].ambient_c - 36.0).abs() < 1e-6);
    assert!((day.cells[1].pressure_kpa - 100.0).abs() < 1e-6);
    assert_eq!(day.cells[1].sun_w_m2, 850.0);
    assert!(power(&day.cells[1]) < power(&day.cells[0]) - 2.0);
}

#[test]
fn settings_out_of_range_are_named() {
    let candidates = [as_it_is(&build("demo"))];
    let told = |grid: &Grid| {
        let error = hot_day(&candidates, grid, None, &|_| true).unwrap_err();
        assert_eq!(error.exit_code(), 2);
        error.to_string()
    };
    let hot = Grid {
        ambients_c: vec![75.0],
        ..small()
    };
    assert!(told(&hot).contains("ambient temperature, degC is 75"));
    let nan = Grid {
        altitudes_m: vec![f64::NAN],
        ..small()
    };
    assert!(told(&nan).contains("altitude, m is NaN"));
    let none = Grid {
        situations: Vec::new(),
        ..small()
    };
    assert!(told(&none).contains("number of cells is 0"));
}
