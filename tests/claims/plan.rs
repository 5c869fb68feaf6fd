//! Test plans: repeats that do what they promise, sheets that can be printed and logs that can be judged.

use baysoak::report::html;
use baysoak::report::plan::{csv_template, render};
use baysoak::sheet::{OptionSpec, Sheet, builtin};
use baysoak::study::judge::MeasuredLog;
use baysoak::study::judge::stats::{repeats, student_factor};
use baysoak::study::plan::{Aim, Plan, PlanOptions, plan};

fn demo() -> Sheet {
    builtin("demo").unwrap()
}

fn options() -> Vec<OptionSpec> {
    let all = demo().options();
    ["as it is", "coat", "wrap"]
        .map(|n| all.iter().find(|o| o.name == n).unwrap().clone())
        .to_vec()
}

fn planned(settings: PlanOptions) -> Plan {
    plan(&demo(), &options(), &settings).unwrap()
}

#[test]
fn repeats_follow_from_effect_and_scatter() {
    let found = planned(PlanOptions::default());
    assert_eq!(found.pairs.len(), 3);
    let wrap = found
        .pairs
        .iter()
        .find(|p| p.a == "as it is" && p.b == "wrap")
        .unwrap();
    assert!(wrap.effect_k.abs() > 10.0, "{wrap:?}");
    for pair in &found.pairs {
        let needed =
            repeats(0.7 * pair.effect_k.abs() / pair.scatter_k, 0.05, 0.9).filter(|&n| n <= 12);
        assert_eq!(pair.repeats, needed, "{pair:?}");
    }
    // each option as often as its hardest pair asks for
    for (option, n) in found.options.iter().zip(&found.repeats) {
        let own = found
            .pairs
            .iter()
            .filter(|p| p.a == *option || p.b == *option);
        assert_eq!(
            *n,
            own.filter_map(|p| p.repeats).max().unwrap_or(2),
            "{option}"
        );
    }
    // no other way tells more pairs, nor as many in less time
    for other in &found.ways[1..] {
        let best = &found.ways[0];
        assert!(other.told < best.told || (other.told == best.told && other.hours >= best.hours));
    }
}

#[test]
fn the_correction_for_outside_air_is_about_one_to_one() {
    for sensor in planned(PlanOptions::default()).sensors {
        // hot metal follows its gas more than the air
        let least = if sensor.channel.starts_with("metal") {
            0.1
        } else {
            0.5
        };
        assert!((least..1.6).contains(&sensor.per_ambient_k), "{sensor:?}");
        assert!(sensor.effects_k[0].abs() < 1e-9 && sensor.scatter_k > 1.5);
    }
}

#[test]
fn an_effect_below_the_scatter_is_said_to_be_out_of_a_tests_reach() {
    let coat = [options()[0].clone(), options()[1].clone()];
    let settings = PlanOptions {
        aim: Aim::Intake,
        ..PlanOptions::default()
    };
    let found = plan(&demo(), &coat, &settings).unwrap();
    assert!(
        found
            .ways
            .iter()
            .all(|w| w.told == 0 && w.clearest <= found.ways[0].clearest)
    );
    assert!(render(&found).contains("tell none of them apart"));
}

#[test]
fn an_aim_and_a_number_of_sensors_are_kept() {
    for (aim, start) in [
        (Aim::Metal, &["metal:"][..]),
        (Aim::Bay, &["air:", "neighbour:"]),
        (Aim::Intake, &["intake"]),
    ] {
        let found = planned(PlanOptions {
            aim,
            sensors: 2,
            ..PlanOptions::default()
        });
        assert!((1..=2).contains(&found.sensors.len()));
        assert!(
            found
                .sensors
                .iter()
                .all(|s| start.iter().any(|p| s.channel.starts_with(p))),
            "{:?}",
            found.sensors
        );
    }
}

/// Two samples drawn with the effect and scatter that a number of repeats is made for: the t test finds it that often.
#[test]
fn verify_power_by_drawing_samples() {
    let mut state = 7_u64;
    let mut even = || {
        state = state
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    let mut normal = || (-2.0 * even().ln()).sqrt() * (std::f64::consts::TAU * even()).cos();
    let n = repeats(2.0, 0.05, 0.9).unwrap();
    let mut sample = |mean: f64| -> (f64, f64) {
        let values: Vec<f64> = (0..n).map(|_| mean + normal()).collect();
        let mean = values.iter().sum::<f64>() / f64::from(n);
        (mean, values.iter().map(|v| (v - mean).powi(2)).sum())
    };
    let critical = student_factor(0.95, f64::from(2 * n - 2));
    let found = (0..4000).filter(|_| {
        let ((a, sa), (b, sb)) = (sample(0.0), sample(2.0));
        let error = ((sa + sb) / f64::from(2 * n - 2) * 2.0 / f64::from(n)).sqrt();
        ((b - a) / error).abs() > critical
    });
    let share = found.count() as f64 / 4000.0;
    // n is rounded up, so a little above
    assert!((0.90..0.95).contains(&share), "{share}");
}

#[test]
fn the_template_of_a_log_is_read_back_with_its_channels() {
    let found = planned(PlanOptions {
        aim: Aim::Bay,
        ..PlanOptions::default()
    });
    let mut text = csv_template(&found);
    let temperatures = ",45".repeat(found.sensors.len());
    for t in 0..3 {
        text.push_str(&format!("{t},50,2000,12,20,90{temperatures}\n"));
    }
    let log = MeasuredLog::read(text.as_bytes(), "log.csv").unwrap();
    for sensor in &found.sensors {
        assert_eq!(
            log.channel(&sensor.channel.to_lowercase()).unwrap(),
            [Some(318.15); 3]
        );
    }
}

#[test]
fn a_page_to_print_has_everything_and_no_markup_from_names() {
    let mut found = planned(PlanOptions::default());
    found.options[1] = "<script>coat".to_owned();
    let page = html::plan(&found);
    assert!(!page.contains("<script>") && page.contains("&lt;script&gt;coat"));
    for part in [
        "Burns, fire",
        "<h2>Steps</h2>",
        "Readings",
        &found.sensors[0].channel,
    ] {
        assert!(page.contains(part), "{part}");
    }
    let rows = page.matches("<tr>").count();
    assert!(rows as u32 >= found.repeats.iter().sum(), "{rows}");
    assert!(
        render(&found)
            .lines()
            .all(|l| anstream::adapter::strip_str(l).to_string().chars().count() <= 132)
    );
}

#[test]
fn settings_out_of_range_and_too_few_options_are_told() {
    let bad = |settings| {
        plan(&demo(), &options(), &settings)
            .unwrap_err()
            .to_string()
    };
    let usual = PlanOptions::default();
    assert!(
        bad(PlanOptions {
            power: 1.0,
            ..usual
        })
        .contains("power = 1")
    );
    assert!(
        bad(PlanOptions {
            alpha: f64::NAN,
            ..usual
        })
        .contains("alpha")
    );
    assert!(
        bad(PlanOptions {
            sensors: 0,
            ..usual
        })
        .contains("sensors = 0")
    );
    let one = plan(&demo(), &options()[..1], &usual).unwrap_err();
    assert!(one.to_string().contains("fewer than two") && one.exit_code() == 2);
}
