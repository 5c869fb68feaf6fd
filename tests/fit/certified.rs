//! The search against certified results: NIST Statistical Reference Datasets, nonlinear regression.

use baysoak::study::fit::least_squares::{Bounds, Residuals, Search, minimise};
use serde::Deserialize;

#[derive(Deserialize)]
struct Problem {
    name: String,
    value: Vec<f64>,
    deviation: Vec<f64>,
    squares: f64,
    low: Vec<f64>,
    high: Vec<f64>,
    starts: Vec<Vec<f64>>,
    x: Vec<f64>,
    y: Vec<f64>,
}

#[derive(Deserialize)]
struct Problems {
    problem: Vec<Problem>,
}

fn problems() -> Vec<Problem> {
    let text = include_str!("../../data/reference/nonlinear.toml");
    toml::from_str::<Problems>(text).unwrap().problem
}

impl Problem {
    fn model(&self, b: &[f64], x: f64) -> f64 {
        match self.name.as_str() {
            "Misra1a" => b[0] * (1.0 - (-b[1] * x).exp()),
            "Rat43" => b[0] / (1.0 + (b[1] - b[2] * x).exp()).powf(1.0 / b[3]),
            "MGH09" => b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]),
            "Thurber" => {
                let above = b[0] + x * (b[1] + x * (b[2] + x * b[3]));
                above / (1.0 + x * (b[4] + x * (b[5] + x * b[6])))
            }
            other => panic!("no model for {other}"),
        }
    }

    fn off(&self, b: &[f64]) -> Vec<f64> {
        let pairs = self.x.iter().zip(&self.y);
        pairs.map(|(&x, y)| self.model(b, x) - y).collect()
    }

    fn bounds(&self) -> Vec<Bounds> {
        let pairs = self.low.iter().zip(&self.high);
        pairs.map(|(&low, &high)| Bounds { low, high }).collect()
    }
}

impl Residuals for Problem {
    fn at(&self, points: &[Vec<f64>]) -> Vec<Result<Vec<f64>, String>> {
        points.iter().map(|b| Ok(self.off(b))).collect()
    }
}

const SEARCH: Search = Search {
    step: 1e-4,
    central: true,
    tolerance: 1e-13,
    patience: 300,
};

#[test]
fn val_nist_data_have_their_certified_sums_of_squares() {
    for p in problems() {
        let squares: f64 = p.off(&p.value).iter().map(|r| r * r).sum();
        assert!(
            (squares / p.squares - 1.0).abs() < 1e-9,
            "{} {squares}",
            p.name
        );
    }
}

#[test]
fn val_nist_parameters_and_deviations_are_found_from_both_starts() {
    for p in problems() {
        for (i, start) in p.starts.iter().enumerate() {
            let found = minimise(&p, &p.bounds(), start, SEARCH).unwrap();
            let squares = 2.0 * found.cost;
            let spread = squares / (p.x.len() - start.len()) as f64;
            let inverse = (found.jacobian.transpose() * &found.jacobian)
                .try_inverse()
                .unwrap();
            assert!(
                (squares / p.squares - 1.0).abs() < 1e-6,
                "{} start {i}: {squares}",
                p.name
            );
            for (j, &x) in found.x.iter().enumerate() {
                let deviation = (spread * inverse[(j, j)]).sqrt();
                let off = (x - p.value[j]).abs() / p.deviation[j];
                assert!(off < 1e-3, "{} start {i} b{}: {x}", p.name, j + 1);
                let off = (deviation / p.deviation[j] - 1.0).abs();
                assert!(
                    off < 2e-3,
                    "{} start {i} b{}: deviation {deviation}",
                    p.name,
                    j + 1
                );
            }
        }
    }
}

#[test]
fn verify_a_minimum_beyond_a_bound_is_sought_at_the_bound_and_has_its_slopes_there() {
    // y = a x with a = 2, and a held below 1.5
    struct Line;
    impl Residuals for Line {
        fn at(&self, points: &[Vec<f64>]) -> Vec<Result<Vec<f64>, String>> {
            let of = |p: &Vec<f64>| Ok((1..5).map(|x| (p[0] - 2.0) * f64::from(x)).collect());
            points.iter().map(of).collect()
        }
    }
    let bounds = [Bounds {
        low: 1.0,
        high: 1.5,
    }];
    let found = minimise(&Line, &bounds, &[1.2], SEARCH).unwrap();
    assert!(found.x[0] > 1.499 && found.x[0] <= 1.5, "{:?}", found.x);
    for (row, slope) in found.jacobian.iter().enumerate() {
        let x = row as f64 + 1.0;
        assert!((slope - x).abs() < 1e-6 * x, "{:?}", found.jacobian);
    }
}

#[test]
fn a_model_that_fails_is_an_error_in_its_words() {
    struct Broken;
    impl Residuals for Broken {
        fn at(&self, points: &[Vec<f64>]) -> Vec<Result<Vec<f64>, String>> {
            points.iter().map(|_| Err("no air".to_owned())).collect()
        }
    }
    let bounds = [Bounds {
        low: 0.0,
        high: 1.0,
    }];
    let told = minimise(&Broken, &bounds, &[0.5], SEARCH).unwrap_err();
    assert_eq!(told, "no air");
}
