//! What treatments do to heat: closed forms, published values, and what buyers are told otherwise.

use super::*;
use baysoak::materials::Family;
use baysoak::network::link::{Law, Shape, Surroundings, coefficient};
use baysoak::network::rates::Scratch;
use baysoak::sheet::OptionSpec;
use baysoak::sheet::build::{ExhaustPart, Gap, Layer, Treatment};

fn layer(thickness_m: f64, conductivity_w_mk: f64, emissivity: f64) -> Layer {
    Layer {
        name: "layer".into(),
        thickness_m,
        conductivity_w_mk,
        conductivity_slope: 0.0,
        density_kg_m3: 2000.0,
        specific_heat_j_kgk: 800.0,
        emissivity,
        gap: None,
    }
}

/// A thin sheet over a gap.
fn sheet(width_m: f64, back_emissivity: f64, emissivity: f64, vented: f64) -> Layer {
    Layer {
        gap: Some(Gap {
            width_m,
            back_emissivity,
            vented,
        }),
        ..layer(0.0005, 45.0, emissivity)
    }
}

fn treated(build: &Build, part: &str, treatment: Treatment) -> Build {
    let mut build = build.clone();
    part_of(&mut build, part).treatment = Some(treatment);
    build
}

fn part_of<'b>(build: &'b mut Build, name: &str) -> &'b mut ExhaustPart {
    let found = build.exhaust.iter_mut().find(|p| p.name == name);
    found.unwrap()
}

fn of_layers(layers: Vec<Layer>) -> Treatment {
    Treatment::of_layers("test", layers)
}

/// A build at rest at a steady speed: what the tests ask of it.
struct Rest {
    network: Network,
    scratch: Scratch,
    conditions: Conditions,
}

impl Rest {
    fn of(build: &Build) -> Self {
        let network = network(build);
        let (plant, y) = at_rest(build, &network, &demand(25.0, Load::Road));
        let conditions = plant.from.clone();
        drop(plant);
        let mut scratch = Scratch::default();
        let mut dy = vec![0.0; network.states()];
        network
            .circuit
            .rates(&conditions, &y, &mut dy, &mut scratch);
        Self {
            network,
            scratch,
            conditions,
        }
    }

    fn k(&self, name: &str) -> f64 {
        self.scratch.node_k[node(&self.network, name)]
    }

    /// Heat that leaves a node along its links of the laws that `which` picks, at a temperature.
    fn out_w(&self, at: usize, at_k: f64, which: impl Fn(&Law) -> bool) -> f64 {
        let c = &self.conditions;
        let around = Surroundings {
            zone_speed_m_s: &c.zone_speed_m_s,
            road_speed_m_s: c.scalars.speed_m_s,
            wind_m_s: c.scalars.wind_m_s,
            pressure_pa: self.network.circuit.pressure_pa,
            rpm: c.scalars.rpm,
        };
        let t = &self.scratch.node_k;
        self.network
            .links
            .iter()
            .filter(|l| which(&l.law))
            .map(|l| match (l.from == at, l.to == at) {
                (true, _) => l.watts(at_k, t[l.to], &around),
                (_, true) => -l.watts(t[l.from], at_k, &around),
                _ => 0.0,
            })
            .sum()
    }

    /// Heat from the gas to a part [W].
    fn gas_heat_w(&self, build: &Build, part: &str) -> f64 {
        let index = build.exhaust.iter().position(|p| p.name == part).unwrap();
        let segments = self
            .network
            .circuit
            .segments
            .iter()
            .zip(&self.scratch.gas.to_wall_w);
        segments
            .filter(|(s, _)| s.part == index)
            .map(|(_, w)| w)
            .sum()
    }
}

fn not_conduction(law: &Law) -> bool {
    !matches!(law, Law::Layer { .. } | Law::Conductance(_))
}

/// 0.3 mm at 1 W/m/K: Fourier's law for a thin wall, drop = q t / k. At some 10 kW/m2 that is a few
/// kelvin, and with the same emissivity the bay hardly sees it.
#[test]
fn verify_a_thin_coat_drops_only_q_t_over_k() {
    let mut bare = demo();
    part_of(&mut bare, "downpipe").emissivity = 0.8;
    let coated = treated(&bare, "downpipe", of_layers(vec![layer(0.3e-3, 1.0, 0.8)]));
    let (before, after) = (Rest::of(&bare), Rest::of(&coated));
    for i in [2, 5, 9] {
        let (metal, skin) = (format!("metal:downpipe/{i}"), format!("skin:downpipe/{i}"));
        let at = node(&after.network, &skin);
        let watts = after.out_w(at, after.k(&skin), not_conduction);
        let part = coated
            .exhaust
            .iter()
            .find(|p| p.name == "downpipe")
            .unwrap();
        let share = baysoak::network::assemble::segment_share(i - 1, 10);
        let mean_d = part.bore_m + 2.0 * part.wall_m + 0.3e-3;
        let area = std::f64::consts::PI * mean_d * part.length_m * share;
        let drop = watts / area * 0.3e-3 / 1.0;
        let found = after.k(&metal) - after.k(&skin);
        assert!((found - drop).abs() < 0.01 * drop + 1e-3, "{found} {drop}");
        assert!((0.5..6.0).contains(&found), "{found} K");
    }
    let (a, b) = (
        before.gas_heat_w(&bare, "downpipe"),
        after.gas_heat_w(&coated, "downpipe"),
    );
    assert!((b / a - 1.0).abs() < 0.02, "{a} W bare, {b} W coated");
}

#[test]
fn a_bright_skin_is_hotter_while_less_heat_leaves() {
    let bare = demo();
    let bright = treated(&bare, "downpipe", of_layers(vec![layer(25e-6, 20.0, 0.2)]));
    let (before, after) = (Rest::of(&bare), Rest::of(&bright));
    // too thin for a temperature of its own: the skin is the metal
    assert!(
        after
            .network
            .nodes
            .iter()
            .all(|n| n.name != "skin:downpipe/5")
    );
    let skin = |r: &Rest| r.k("metal:downpipe/5");
    assert!(skin(&after) > skin(&before) + 10.0);
    let heat = |r: &Rest, b: &Build| r.gas_heat_w(b, "downpipe");
    let (a, b) = (heat(&before, &bare), heat(&after, &bright));
    assert!(
        b < 0.93 * a,
        "{a} {b} W, {} {} K",
        skin(&before),
        skin(&after)
    );
}

/// A dull thin coat on bright metal loses more heat than the bare part: the radiating face wins over
/// a resistance of 0.04 mm.
#[test]
fn a_dull_coat_on_bright_metal_loses_more_than_bare() {
    let mut bright = demo();
    part_of(&mut bright, "downpipe").emissivity = 0.1;
    let dull = treated(&bright, "downpipe", of_layers(vec![layer(40e-6, 1.0, 0.9)]));
    let heat = |b: &Build| Rest::of(b).gas_heat_w(b, "downpipe");
    assert!(heat(&dull) > 1.15 * heat(&bright));
}

/// Below the critical radius r = k / h more insulation loses more heat (Incropera & DeWitt, ex. 3.5):
/// a bright tube of 12 mm in still air, k 0.5 and h near 12 W/m2/K, has it near 40 mm, and h falls
/// with size, which brings the maximum closer.
#[test]
fn insulation_below_the_critical_radius_loses_more_heat() {
    let (metal_k, air_k) = (600.0, 350.0);
    let turn = 2.0 * std::f64::consts::PI;
    let convected = |d_m: f64, skin_k: f64| {
        let h = coefficient(Shape::Cylinder(d_m), skin_k, air_k, 0.0, 1e5);
        h * std::f64::consts::PI * d_m * (skin_k - air_k)
    };
    let lost = |t_m: f64| {
        let r = 0.006 + t_m;
        let conducted = |skin_k: f64| turn * 0.5 * (metal_k - skin_k) / (r / 0.006).ln();
        let skin_k = bisect(air_k, metal_k, &|s| convected(2.0 * r, s) > conducted(s));
        conducted(skin_k)
    };
    let bare = convected(0.012, metal_k);
    let (thin, thicker, thick) = (lost(0.004), lost(0.012), lost(1.5));
    assert!(
        thin > 1.1 * bare && thicker > thin && thick < thicker,
        "{bare} {thin} {thicker} {thick} W/m"
    );
}

/// Where a rising quantity turns too large.
fn bisect(mut low: f64, mut high: f64, too_large: &dyn Fn(f64) -> bool) -> f64 {
    for _ in 0..60 {
        let mid = 0.5 * (low + high);
        if too_large(mid) {
            high = mid
        } else {
            low = mid
        }
    }
    0.5 * (low + high)
}

/// Metal temperature under a wrap by a second route: bisection on gas film, wrap and skin of one
/// segment, everything around it held.
#[test]
fn verify_the_metal_under_a_wrap_is_hotter_by_what_resistances_say() {
    let bare = demo();
    let wrapped = treated(&bare, "downpipe", of_layers(vec![layer(5e-3, 0.1, 0.85)]));
    let (before, after) = (Rest::of(&bare), Rest::of(&wrapped));
    let segment = |r: &Rest| {
        let metal = node(&r.network, "metal:downpipe/5");
        r.network
            .circuit
            .segments
            .iter()
            .position(|s| s.wall == metal)
            .unwrap()
    };
    let i = segment(&after);
    let (metal, skin) = (
        node(&after.network, "metal:downpipe/5"),
        node(&after.network, "skin:downpipe/5"),
    );
    let Some(&Law::Layer { shape_m, k0, .. }) = after
        .network
        .links
        .iter()
        .find(|l| (l.from, l.to) == (metal, skin))
        .map(|l| &l.law)
    else {
        panic!("no layer")
    };
    let wrap_w_k = shape_m * k0;
    let gas_k = after.scratch.gas.in_k[i];
    let wall_k = after.scratch.node_k[metal];
    // the march takes the specific heat between gas in and out, its slope that at the ports
    let film_w_k = after.scratch.gas.to_wall_w[i] / (gas_k - wall_k);
    let through = (after.scratch.gas.out_k[i] - wall_k) / (gas_k - wall_k);
    let segments = &after.network.circuit.segments;
    let by_wall = after.scratch.gas.by_wall(&segments[i], through);
    assert!((film_w_k / -by_wall - 1.0).abs() < 0.05);
    let skin_for = |metal_k: f64| {
        bisect(280.0, metal_k, &|s| {
            after.out_w(skin, s, not_conduction) > wrap_w_k * (metal_k - s)
        })
    };
    let expected = bisect(280.0, gas_k, &|m| {
        let along = after.out_w(metal, m, |l| matches!(l, Law::Conductance(_)));
        wrap_w_k * (m - skin_for(m)) + along > film_w_k * (gas_k - m)
    });
    assert!((wall_k - expected).abs() < 0.5, "{wall_k} {expected}");
    let rise = wall_k - before.k("metal:downpipe/5");
    assert!((30.0..200.0).contains(&rise), "{rise} K");
    assert!(wall_k < gas_k);
}

/// Radiation between long concentric cylinders, by hand in the list of checks: eps 0.8 on 25 mm,
/// eps 0.1 on 35 mm, 900 K to 400 K: 4656.04 W/m2 of the inner one.
#[test]
fn val_radiation_across_a_shield_gap() {
    let mut build = demo();
    {
        let part = part_of(&mut build, "downpipe");
        (part.bore_m, part.wall_m, part.emissivity) = (0.046, 0.002, 0.8);
    }
    let build = treated(
        &build,
        "downpipe",
        of_layers(vec![sheet(0.010, 0.1, 0.2, 0.0)]),
    );
    let network = network(&build);
    let (metal, shield) = (
        node(&network, "metal:downpipe/5"),
        node(&network, "skin:downpipe/5"),
    );
    let area_m2 = network.links.iter().find_map(|l| match l.law {
        Law::Radiation { area_m2 } if (l.from, l.to) == (metal, shield) => Some(area_m2),
        _ => None,
    });
    let share = baysoak::network::assemble::segment_share(4, 10);
    let length = build
        .exhaust
        .iter()
        .find(|p| p.name == "downpipe")
        .unwrap()
        .length_m;
    let inner_m2 = std::f64::consts::PI * 0.050 * length * share;
    let sigma = baysoak::constants::STEFAN_BOLTZMANN_W_M2_K4;
    let flux = sigma * area_m2.unwrap() / inner_m2 * (900f64.powi(4) - 400f64.powi(4));
    assert!((flux - 4656.04).abs() < 0.005, "{flux}");
}

/// n thin shields of one emissivity between plane faces let through 1 / (n + 1) (Incropera & DeWitt,
/// section 13.3.3); here between a large tube and the last of n + 1 sheets close around it.
#[test]
fn verify_n_shields_let_through_one_part_in_n_plus_one() {
    let resistance = |n: usize| {
        let mut build = demo();
        {
            let part = part_of(&mut build, "catalyst");
            (part.bore_m, part.emissivity) = (0.2, 0.3);
        }
        let skins = vec![
            Layer {
                thickness_m: 1e-6,
                ..sheet(1e-5, 0.3, 0.3, 0.0)
            };
            n + 1
        ];
        let network = network(&treated(&build, "catalyst", of_layers(skins)));
        let (metal, skin) = (
            node(&network, "metal:catalyst"),
            node(&network, "skin:catalyst"),
        );
        let mut inner: Vec<usize> = (0..network.nodes.len())
            .filter(|&i| network.nodes[i].name.starts_with("layer:catalyst"))
            .collect();
        inner.insert(0, metal);
        inner.push(skin);
        let series = inner.windows(2).map(|w| {
            let link = network
                .links
                .iter()
                .find(|l| (l.from, l.to) == (w[0], w[1]) && matches!(l.law, Law::Radiation { .. }));
            match link.unwrap().law {
                Law::Radiation { area_m2 } => 1.0 / area_m2,
                _ => unreachable!(),
            }
        });
        series.sum::<f64>()
    };
    let one = resistance(0);
    for n in 1..=3 {
        let through = one / resistance(n);
        let expected = 1.0 / (n as f64 + 1.0);
        assert!((through / expected - 1.0).abs() < 1e-3, "{n}: {through}");
    }
}

#[test]
fn at_rest_what_enters_a_shield_leaves_it() {
    let skins = vec![sheet(0.010, 0.3, 0.2, 0.5), sheet(0.006, 0.2, 0.2, 0.0)];
    let mut treatment = of_layers(skins);
    treatment.coverage = 0.7;
    let build = treated(&demo(), "downpipe", treatment);
    let rest = Rest::of(&build);
    for name in ["skin:downpipe/4", "layer:downpipe:layer/4"] {
        let at = node(&rest.network, name);
        let net = rest.out_w(at, rest.k(name), |_| true);
        assert!(net.abs() < 0.05, "{name}: {net} W");
    }
    let inner = rest.k("layer:downpipe:layer/4");
    assert!(rest.k("metal:downpipe/4") > inner + 50.0 && inner > rest.k("skin:downpipe/4") + 5.0);
}

/// A lining is a resistance between gas and metal: U = 1 / (1 / h + t / k).
#[test]
fn verify_a_lining_is_in_series_with_the_gas_film() {
    let bare = demo();
    let mut lined = bare.clone();
    part_of(&mut lined, "runners").treatment = Some(Treatment {
        inside: vec![layer(0.5e-3, 1.0, 0.8)],
        outside: Vec::new(),
        family: Family::Coat,
        ..of_layers(Vec::new())
    });
    let (a, b) = (Rest::of(&bare), Rest::of(&lined));
    let (i, s) = (0, &b.network.circuit.segments[0]);
    assert!((s.lining_m2k_w - 0.5e-3).abs() < 1e-12);
    // number of transfer units back from the march, with and without
    let ntu = |r: &Rest| {
        let g = &r.scratch.gas;
        let wall = r.scratch.node_k[r.network.circuit.segments[i].wall];
        -((g.out_k[i] - wall) / (g.in_k[i] - wall)).ln()
    };
    // ntu = U A / (m cp): the ratio gives 1 / (1 + h t / k), both at nearly one gas temperature
    let flow = b.conditions.scalars.exhaust_kg_s;
    let gas = baysoak::physics::exhaust_gas::ExhaustGas::new(b.network.circuit.fuel, 1.0);
    let (in_k, wall_k) = (b.scratch.gas.in_k.clone(), b.scratch.node_k[s.wall]);
    let mut films = baysoak::network::gas_films::FilmScratch::default();
    films.wall_k = vec![wall_k; in_k.len()];
    films.gas_k.clone_from(&in_k);
    a.network
        .circuit
        .gas_films
        .transfer_units(flow, &gas, &mut films);
    let capacity = flow * gas.specific_heat(0.5 * (in_k[i] + wall_k));
    let h = films.units[i] * capacity / s.area_m2;
    let expected = 1.0 / (1.0 + h * 0.5e-3);
    let found = ntu(&b) / ntu(&a);
    assert!((found / expected - 1.0).abs() < 0.02, "{found} {expected}");
    assert!(expected < 0.97, "{expected}");
    // and so the metal is cooler, the gas behind hotter
    assert!(b.k("metal:runners/5") < a.k("metal:runners/5") - 1.0);
}

fn option_of(treat: &[(&str, &str)]) -> Build {
    let sheet = edited(&[]);
    let option = OptionSpec::treating("x", treat.iter().copied());
    settled(&sheet.with_option(&option).unwrap_or_else(|e| panic!("{e}"))).build
}

#[test]
fn a_jacketed_housing_is_hotter_ten_minutes_after_key_off() {
    let cycle = cycle(
        Start::Warm,
        &[
            (PhaseKind::Drive, 120.0, 33.0, false),
            (PhaseKind::KeyOff, 600.0, 0.0, false),
        ],
    );
    let end = |build: &Build| {
        let result = run_build(build, &cycle, &RunOptions::default());
        assert!(result.findings.audit.residual_percent < 0.1);
        *result
            .series
            .column("metal:turbine_c")
            .unwrap()
            .last()
            .unwrap()
    };
    let (bare, jacketed) = (
        end(&demo()),
        end(&option_of(&[("turbine", "jacket-ceramic-fibre")])),
    );
    assert!(jacketed > bare + 15.0, "{bare} {jacketed}");
}

#[test]
fn no_coating_touches_the_heat_of_radiator_and_block() {
    let cycle = cycle(Start::Warm, &[(PhaseKind::Drive, 180.0, 25.0, false)]);
    let shares = |build: &Build| {
        let result = run_build(build, &cycle, &RunOptions::default());
        let heat = &result.findings.bay_heat;
        let all: f64 = heat.iter().map(|s| s.mean_w).sum();
        let of = |name: &str| heat.iter().find(|s| s.name == name).unwrap().mean_w;
        (of("radiator") + of("engine block"), all)
    };
    let wrapped: Vec<(&str, &str)> = ["runners", "collector", "turbine", "catalyst", "downpipe"]
        .map(|p| (p, "jacket-ceramic-fibre"))
        .to_vec();
    let (bare, all) = shares(&demo());
    let (kept, all_wrapped) = shares(&option_of(&wrapped));
    assert!(bare > 0.7 * all, "{bare} of {all} W");
    assert!((kept / bare - 1.0).abs() < 0.03, "{bare} {kept} W");
    assert!(all_wrapped < all, "{all} {all_wrapped} W");
}

#[test]
fn books_close_with_every_treatment_of_the_catalogue() {
    let cycle = cycle(
        Start::Warm,
        &[
            (PhaseKind::Drive, 30.0, 30.0, false),
            (PhaseKind::KeyOff, 30.0, 0.0, false),
        ],
    );
    for t in baysoak::materials::treatments() {
        let on: Vec<(&str, &str)> = [
            ("runners", "runner"),
            ("turbine", "turbine"),
            ("catalyst", "catalyst"),
            ("front pipe", "pipe"),
        ]
        .into_iter()
        .filter(|(_, kind)| t.suits.iter().any(|s| s == kind))
        .map(|(part, _)| (part, t.id.as_str()))
        .collect();
        let result = run_build(&option_of(&on), &cycle, &RunOptions::default());
        let audit = &result.findings.audit;
        assert!(audit.residual_percent < 0.02, "{}: {audit:?}", t.id);
        assert!(
            figure(&result, "metal_peak_c", "runners") > 200.0,
            "{}",
            t.id
        );
    }
}

#[test]
fn a_share_left_bare_costs_much_of_a_wrap() {
    let bare = demo();
    let wrap = |coverage: f64| {
        let treatment = Treatment {
            coverage,
            ..of_layers(vec![layer(6e-3, 0.08, 0.85)])
        };
        let build = treated(&bare, "downpipe", treatment);
        Rest::of(&build).gas_heat_w(&build, "downpipe")
    };
    let heat = [
        Rest::of(&bare).gas_heat_w(&bare, "downpipe"),
        wrap(0.85),
        wrap(1.0),
    ];
    assert!(heat[0] > heat[1] && heat[1] > 1.15 * heat[2], "{heat:?}");
}

#[test]
fn two_methods_agree_on_a_stack_of_thin_layers() {
    let build = option_of(&[
        ("runners", "coat-ceramic-both"),
        ("downpipe", "shield-double"),
    ]);
    let cycle = cycle(
        Start::Warm,
        &[
            (PhaseKind::Drive, 20.0, 30.0, false),
            (PhaseKind::KeyOff, 20.0, 0.0, false),
        ],
    );
    let end = |method| {
        let options = RunOptions {
            method,
            ..RunOptions::default()
        };
        let result = run_build(&build, &cycle, &options);
        result.series.rows.last().unwrap().clone()
    };
    let (a, b) = (end(Method::Rosenbrock), end(Method::DormandPrince));
    for (x, y) in a.iter().zip(&b) {
        assert!((x - y).abs() < 0.3, "{x} {y}");
    }
}
