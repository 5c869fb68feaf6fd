//! The bay coloured by temperature: zones of air, exhaust in flow order, things nearby.

use maud::{Markup, html};

use super::super::figures_of;
use super::super::grid::clip;
use crate::quantity::{Quantity, Units};
use crate::study::findings::{Figure, Findings};

/// Colours from cool to hot with lightness falling all the way, so that they read in grey and with
/// any colour vision; temperatures are printed as well.
const SCALE: [(f64, f64, f64); 6] = [
    (253.0, 246.0, 214.0),
    (250.0, 208.0, 128.0),
    (238.0, 146.0, 66.0),
    (202.0, 80.0, 70.0),
    (134.0, 36.0, 98.0),
    (52.0, 16.0, 70.0),
];
/// Ends of the scale [degC].
const COOL_C: f64 = 20.0;
const HOT_C: f64 = 900.0;

/// Zones that have a place of their own: name, x, y, width, height.
const PLACES: [(&str, f64, f64, f64, f64); 5] = [
    ("nose", 20.0, 70.0, 110.0, 180.0),
    ("front", 146.0, 110.0, 170.0, 100.0),
    ("upper", 146.0, 40.0, 600.0, 66.0),
    ("hot", 560.0, 110.0, 186.0, 100.0),
    ("low", 146.0, 214.0, 600.0, 66.0),
];
const WIDE: f64 = 1080.0;

/// Share of the way from cool to hot: finer among cool temperatures, where air and plastics are.
fn share(temp_c: f64) -> f64 {
    ((temp_c - COOL_C) / (HOT_C - COOL_C))
        .clamp(0.0, 1.0)
        .sqrt()
}

/// Fill and ink of a temperature.
fn colours(temp_c: f64) -> (String, &'static str) {
    let place = share(temp_c) * (SCALE.len() - 1) as f64;
    let i = (place as usize).min(SCALE.len() - 2);
    let (a, b, f) = (SCALE[i], SCALE[i + 1], place - i as f64);
    let mix = |a: f64, b: f64| a + f * (b - a);
    let (r, g, b) = (mix(a.0, b.0), mix(a.1, b.1), mix(a.2, b.2));
    // black or white, whichever stands out more (WCAG 2.2, relative luminance): never below 4.5 to 1
    let linear = |v: f64| {
        let v = v / 255.0;
        if v <= 0.04045 {
            v / 12.92
        } else {
            ((v + 0.055) / 1.055).powf(2.4)
        }
    };
    let light = 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b) + 0.05;
    let ink = if light / 0.05 > 1.05 / light {
        "#000"
    } else {
        "#fff"
    };
    (format!("rgb({r:.0},{g:.0},{b:.0})"), ink)
}

/// The scale in steps that the eye can't tell apart.
pub(super) fn scale() -> Vec<(f64, String, &'static str)> {
    const STEPS: u32 = 96;
    (0..=STEPS)
        .map(|i| {
            let place = f64::from(i) / f64::from(STEPS);
            let temp_c = COOL_C + place * place * (HOT_C - COOL_C);
            let (fill, ink) = colours(temp_c);
            (temp_c, fill, ink)
        })
        .collect()
}

/// The picture.
pub(super) fn picture(findings: &Findings, units: Units) -> Markup {
    let zones: Vec<&Figure> = figures_of(findings, "bay_air_peak_c").collect();
    let skins: Vec<&Figure> = figures_of(findings, "skin_peak_c").collect();
    let nearby: Vec<&Figure> = figures_of(findings, "neighbour_peak_c").collect();
    let own = |z: &Figure| PLACES.iter().find(|p| p.0 == z.place);
    let others: Vec<&&Figure> = zones.iter().filter(|z| own(z).is_none()).collect();
    let below = 322.0;
    let nearby_at = below + 74.0;
    let high = nearby_at + if nearby.is_empty() { 40.0 } else { 108.0 };
    let margin = |name: &str| {
        let all = findings.margins.iter().filter(|m| m.part == name);
        all.map(|m| m.margin_k).reduce(f64::min)
    };
    html! {
        svg viewBox=(format!("0 0 {WIDE} {high:.0}")) role="img" aria-label="the bay coloured by temperature" {
            text x="20" y="22" font-size="14" font-weight="700" { "peak of the air in each zone, nose of the car to the left, not to scale" }
            @for zone in &zones {
                @if let Some((name, x, y, w, h)) = own(zone) {
                    (tile((*x, *y, *w, *h), name, zone.value, units, None))
                }
            }
            @for (i, zone) in others.iter().enumerate() {
                (tile((770.0, 40.0 + 50.0 * i as f64, 130.0, 44.0), &zone.place, zone.value, units, None))
            }
            rect x="320" y="110" width="236" height="100" fill="#dee0e3" stroke="#5c6066" {}
            text x="438" y="156" font-size="13" text-anchor="middle" { "engine" }
            @for fluid in figures_of(findings, "fluid_peak_c").take(2).enumerate() {
                @let y = 174.0 + 16.0 * fluid.0 as f64;
                text x="438" y=(y) font-size="12" text-anchor="middle" {
                    (clip(&fluid.1.place, 12)) " " (Quantity::Temperature.show(fluid.1.value, units))
                }
            }
            rect x="133" y="66" width="10" height="188" fill="#5c6066" {}
            (legend(units))
            text x="20" y=(below - 10.0) font-size="14" font-weight="700" { "exhaust skins in flow order, peak" }
            @for (i, skin) in skins.iter().enumerate() {
                @let w = (1040.0 / skins.len().max(1) as f64).min(190.0);
                (tile((20.0 + w * i as f64, below, w - 6.0, 44.0), &skin.place, skin.value, units, None))
            }
            @if !nearby.is_empty() {
                text x="20" y=(nearby_at + 14.0) font-size="14" font-weight="700" { "things nearby, peak, and room to their limit" }
            }
            @for (i, part) in nearby.iter().enumerate() {
                @let w = (1040.0 / nearby.len().max(1) as f64).min(190.0);
                (tile((20.0 + w * i as f64, nearby_at + 24.0, w - 6.0, 62.0), &part.place, part.value, units, margin(&part.place)))
            }
        }
    }
}

/// A coloured box with name, temperature and, where known, room to the limit.
fn tile(
    (x, y, w, h): (f64, f64, f64, f64),
    name: &str,
    temp_c: f64,
    units: Units,
    room_k: Option<f64>,
) -> Markup {
    let (fill, ink) = colours(temp_c);
    let over = room_k.is_some_and(|r| r < 0.0);
    let middle = x + 0.5 * w;
    let lines = if room_k.is_some() { 3.0 } else { 2.0 };
    let first = y + 0.5 * h - 8.0 * lines + 12.0;
    // letters of this size are about 7 wide
    let room = (w / 7.0) as usize;
    html! {
        rect x=(format!("{x:.1}")) y=(format!("{y:.1}")) width=(format!("{w:.1}")) height=(h) fill=(fill)
            stroke=(if over { "#a82618" } else { "#5c6066" }) stroke-width=(if over { 4 } else { 1 }) {}
        text x=(format!("{middle:.1}")) y=(format!("{first:.1}")) font-size="12" text-anchor="middle" fill=(ink) { (clip(name, room)) }
        text x=(format!("{middle:.1}")) y=(format!("{:.1}", first + 16.0)) font-size="13" font-weight="700" text-anchor="middle" fill=(ink) {
            (Quantity::Temperature.show(temp_c, units))
        }
        @if let Some(room) = room_k {
            text x=(format!("{middle:.1}")) y=(format!("{:.1}", first + 32.0)) font-size="12" text-anchor="middle" fill=(ink) {
                @if over { "over by " } @else { "room " }
                (Quantity::Difference.show(room.abs(), units))
            }
        }
    }
}

fn legend(units: Units) -> Markup {
    let steps = [20.0, 60.0, 100.0, 150.0, 250.0, 400.0, 600.0, 900.0];
    html! {
        @for (i, c) in steps.iter().enumerate() {
            @let y = 40.0 + 26.0 * i as f64;
            rect x="950" y=(y) width="34" height="22" fill=(colours(*c).0) stroke="#5c6066" stroke-width="0.5" {}
            text x="992" y=(y + 16.0) font-size="12" { (Quantity::Temperature.show(*c, units)) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hotter_is_always_darker() {
        let light = |c: f64| {
            let (fill, _) = colours(c);
            let inside = fill.trim_start_matches("rgb(").trim_end_matches(')');
            let v: Vec<f64> = inside.split(',').map(|n| n.parse().unwrap()).collect();
            0.299 * v[0] + 0.587 * v[1] + 0.114 * v[2]
        };
        let mut last = 256.0;
        for c in (20..=900).step_by(20) {
            let now = light(f64::from(c));
            assert!(now < last + 0.5, "{c}: {now} {last}");
            last = now;
        }
        assert!(light(20.0) - light(900.0) > 180.0);
        assert_eq!(colours(-40.0), colours(20.0));
        assert_eq!(colours(2000.0), colours(900.0));
    }
}
