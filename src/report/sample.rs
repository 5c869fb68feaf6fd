//! An invented run for the tests of the reports: the numbers are only plausible.

use crate::study::findings::*;

/// Name, kind, minutes, road speed km/h, exhaust gas degC.
const PHASES: [(&str, &str, f64, f64, f64); 6] = [
    ("town", "drive", 8.0, 40.0, 480.0),
    ("motorway", "drive", 12.0, 125.0, 760.0),
    ("hill", "drive", 6.0, 80.0, 870.0),
    ("queue", "stand", 4.0, 0.0, 330.0),
    ("soak", "key-off", 12.0, 0.0, 60.0),
    ("hot restart", "restart", 3.0, 30.0, 420.0),
];

/// Column, place it leans to (share of gas over ambient when driving, when standing), time constant s.
const COLUMNS: [(&str, f64, f64, f64); 13] = [
    ("gas:runners_c", 1.0, 1.0, 4.0),
    ("gas:turbine_c", 0.9, 0.9, 6.0),
    ("gas:downpipe_c", 0.8, 0.8, 8.0),
    ("metal:turbine_c", 0.84, 0.9, 160.0),
    ("skin:runners_c", 0.71, 0.8, 60.0),
    ("skin:turbine_c", 0.73, 0.8, 150.0),
    ("skin:downpipe_c", 0.55, 0.7, 50.0),
    ("air:hot_c", 0.05, 0.25, 40.0),
    ("air:upper_c", 0.035, 0.2, 70.0),
    ("air:front_c", 0.02, 0.1, 90.0),
    ("intake:pickup_c", 0.006, 0.07, 90.0),
    ("intake:sensor_c", 0.018, 0.1, 120.0),
    ("intake:valve_c", 0.035, 0.13, 60.0),
];

/// A run whose series, figures and phases fit each other roughly.
pub(crate) fn run_result() -> RunResult {
    let ambient = 35.0;
    let mut state: Vec<f64> = COLUMNS.iter().map(|_| ambient).collect();
    let mut series = Series {
        names: COLUMNS.iter().map(|c| c.0.to_owned()).collect(),
        ..Series::default()
    };
    series
        .names
        .extend(["ambient_c".into(), "speed_kmh".into()]);
    let mut now = 0.0;
    for (name, kind, minutes, speed, gas) in PHASES {
        let end = now + minutes * 60.0;
        series.phases.push((name.into(), kind.into(), now, end));
        while now < end - 1e-9 {
            let gust = 60.0 * (now / 37.0).sin() * f64::from(u8::from(speed > 0.0));
            for (x, (_, drive, stand, tau)) in state.iter_mut().zip(COLUMNS) {
                let share = if speed > 0.0 { drive } else { stand };
                // after key-off the metal, not the gas, is what warms the bay
                let source = if kind == "key-off" && tau > 30.0 {
                    250.0
                } else {
                    gas + gust
                };
                let slow = if speed > 0.0 { 1.0 } else { 2.5 };
                *x += (ambient + share * (source - ambient) - *x) * 5.0 / (tau * slow + 5.0);
            }
            let mut row = state.clone();
            row.extend([ambient, speed]);
            series.time_s.push(now);
            series.rows.push(row);
            now += 5.0;
        }
    }
    let findings = findings(&series);
    RunResult { findings, series }
}

fn findings(series: &Series) -> Findings {
    let peak = |name: &str| {
        series
            .column(name)
            .unwrap()
            .into_iter()
            .fold(f64::MIN, f64::max)
    };
    let mean = |name: &str| {
        let c = series.column(name).unwrap();
        c.iter().sum::<f64>() / c.len() as f64
    };
    let mut figures = Vec::new();
    let mut add = |id: &str, place: &str, unit: &str, value: f64| {
        figures.push(Figure {
            id: id.into(),
            label: id.replace('_', " "),
            place: place.into(),
            unit: unit.into(),
            value,
            low: None,
            high: None,
            median: None,
        });
    };
    for place in ["pickup", "sensor", "valve"] {
        add(
            "intake_rise_mean_k",
            place,
            "K",
            mean(&format!("intake:{place}_c")) - 35.0,
        );
        add(
            "intake_rise_peak_k",
            place,
            "K",
            peak(&format!("intake:{place}_c")) - 35.0,
        );
    }
    add("charge_density_loss_percent", "valve", "%", 6.3);
    add("power_loss_percent", "density", "%", 6.3);
    add("power_loss_percent", "standard", "%", 3.1);
    for (part, heat) in [("runners", 812.0), ("turbine", 655.0), ("downpipe", 421.0)] {
        add("skin_peak_c", part, "degC", peak(&format!("skin:{part}_c")));
        add(
            "metal_peak_c",
            part,
            "degC",
            peak(&format!("skin:{part}_c")) + 24.0,
        );
        add("heat_to_bay_mean_w", part, "W", heat);
        add(
            "time_to_touch_min",
            part,
            "min",
            if part == "turbine" { 12.0 } else { 9.5 },
        );
    }
    add("heat_to_bay_mean_w", "all", "W", 1888.0);
    for zone in ["hot", "upper", "front"] {
        add(
            "bay_air_peak_c",
            zone,
            "degC",
            peak(&format!("air:{zone}_c")),
        );
    }
    add(
        "turbine_inlet_mean_c",
        "turbine",
        "degC",
        mean("gas:runners_c"),
    );
    Findings {
        schema: SCHEMA,
        program: Program {
            name: "baysoak".into(),
            version: "0.1.0".into(),
        },
        sheet: SheetId {
            title: "Invented hatch, turbo petrol".into(),
            hash: "0123456789abcdef".into(),
        },
        cycle: CycleId {
            name: "mixed".into(),
            duration_s: 2700.0,
        },
        day: DayId {
            name: "hot".into(),
            ambient_c: 35.0,
            humidity_percent: 40.0,
            pressure_kpa: 100.6,
            sun_w_m2: 800.0,
            wind_m_s: 1.0,
        },
        audit: Audit {
            residual_percent: 0.012,
            residual_w: 4.1,
            in_w: 34000.0,
            out_w: 33100.0,
            stored_w: 895.9,
        },
        work: WorkDone {
            steps: 1834,
            rejected: 12,
            rhs_calls: 7411,
            nodes: 47,
            links: 131,
        },
        figures,
        margins: vec![
            margin("coolant hose", "rubber", 131.0, 125.0, 95.0),
            margin("turbine", "metal oxidation", 655.0, 1000.0, 0.0),
            margin("wiring loom", "insulation", 96.0, 105.0, 0.0),
        ],
        exhaust_heat: vec![
            share("out of the tailpipe", 11800.0, 0.0),
            share("turbine shaft", 2900.0, 0.0),
            share("runners", 1012.0, 0.0),
            share("turbine", 855.0, 0.0),
            share("downpipe", 621.0, 0.0),
            share("catalyst", -160.0, 0.0),
            share("centre pipe", 1300.0, 0.0),
        ],
        fuel_heat: vec![
            share("brake work", 14000.0, 0.0),
            share("exhaust", 18000.0, 0.0),
        ],
        bay_heat: vec![
            share("radiator", 3900.0, 1.0),
            share("engine block", 700.0, 1.0),
            share("runners", 812.0, 0.38),
            share("turbine", 655.0, 0.3),
            share("downpipe", 421.0, 0.45),
            share("oil pan", -35.0, 0.6),
        ],
        phases: series
            .phases
            .iter()
            .map(|(name, kind, start_s, end_s)| PhaseResult {
                name: name.clone(),
                kind: kind.clone(),
                start_s: *start_s,
                end_s: *end_s,
                sensor_rise_mean_k: 12.0,
                sensor_rise_peak_k: 19.5,
                valve_rise_mean_k: (kind != "key-off").then_some(21.0),
                skin_peak_c: 580.0,
                bay_air_peak_c: 88.0,
            })
            .collect(),
        cautions: vec!["Fibres itch and must not be breathed.".into()],
        warnings: (1..=7)
            .map(|i| format!("correlation {i} used outside its range"))
            .collect(),
        assumed: vec![Assumed {
            key: "bay.mixing_share".into(),
            value: 0.2,
            low: 0.1,
            high: 0.4,
            basis: "estimate".into(),
        }],
        draws: None,
        measure_first: Vec::new(),
    }
}

fn margin(part: &str, what: &str, peak_c: f64, limit_c: f64, over_s: f64) -> Margin {
    Margin {
        part: part.into(),
        what: what.into(),
        peak_c,
        limit_c,
        margin_k: limit_c - peak_c,
        over_s,
        low_k: None,
        high_k: None,
        over_chance_percent: None,
        source: "invented".into(),
    }
}

fn share(name: &str, mean_w: f64, convection: f64) -> Share {
    Share {
        name: name.into(),
        mean_w,
        convection_w: convection * mean_w,
        radiation_w: if convection > 0.0 {
            (1.0 - convection) * mean_w
        } else {
            0.0
        },
    }
}
