//! A drawing of this car's bay from its sheet, to be coloured on the page at any moment of the drive.
//!
//! A section along the car, nose to the left: air zones as fields, in each the exhaust parts, housings,
//! intake pieces and things nearby that stand in it, with the routes of exhaust and intake through them.
//! Every coloured thing names the column of the series that it shows (`data-column`).

use maud::{Markup, html};

use crate::sheet::build::{Build, ExhaustPart, IntakePlace};

const WIDE: f64 = 1000.0;
const TAG_WIDE: f64 = 148.0;
const TAG_HIGH: f64 = 42.0;
const GAP: f64 = 10.0;
/// Room for the name of a field.
const HEAD: f64 = 28.0;
/// Left edge of what lies behind the radiator.
const BEHIND: f64 = 188.0;
/// Top of the fields, below the line of outside air.
const TOP: f64 = 40.0;

/// What a tag stands for; each has a shape of its own, so that colour is never the only sign.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Shape {
    Exhaust,
    Housing,
    Intake,
    Neighbour,
}

impl Shape {
    fn class(self) -> &'static str {
        match self {
            Self::Exhaust => "exhaust",
            Self::Housing => "housing",
            Self::Intake => "intake",
            Self::Neighbour => "neighbour",
        }
    }
}

/// One thing in a field.
struct Tag<'a> {
    shape: Shape,
    name: &'a str,
    column: String,
    /// Beside the temperature: what is on it, or the limit's place.
    note: Option<&'a str>,
    limit_c: Option<f64>,
    middle: (f64, f64),
}

/// A field: an air zone, or the space under the floor.
struct Field<'a> {
    name: &'a str,
    /// Column of its air; none under the floor.
    column: Option<String>,
    tags: Vec<Tag<'a>>,
    x: f64,
    y: f64,
    w: f64,
    h: f64,
}

impl<'a> Field<'a> {
    fn new(name: &'a str, column: Option<String>) -> Self {
        Self {
            name,
            column,
            tags: Vec::new(),
            x: 0.0,
            y: 0.0,
            w: WIDE,
            h: 0.0,
        }
    }

    fn per_row(&self) -> usize {
        (((self.w - GAP) / (TAG_WIDE + GAP)).floor() as usize).max(1)
    }

    /// Height that its tags need.
    fn need(&self) -> f64 {
        let rows = self.tags.len().div_ceil(self.per_row()).max(1);
        HEAD + rows as f64 * (TAG_HIGH + GAP)
    }

    /// Puts the field and its tags in their places.
    fn place(&mut self, x: f64, y: f64, h: f64) {
        (self.x, self.y, self.h) = (x, y, h);
        let per_row = self.per_row();
        for (i, tag) in self.tags.iter_mut().enumerate() {
            let (row, column) = ((i / per_row) as f64, (i % per_row) as f64);
            tag.middle = (
                x + GAP + column * (TAG_WIDE + GAP) + 0.5 * TAG_WIDE,
                y + HEAD + row * (TAG_HIGH + GAP) + 0.5 * TAG_HIGH,
            );
        }
    }
}

/// Everything placed.
struct Plan<'a> {
    fields: Vec<Field<'a>>,
    engine: (f64, f64, f64, f64),
    radiator: (f64, f64, f64, f64),
    high: f64,
}

impl Plan<'_> {
    fn middle(&self, column: &str) -> Option<(f64, f64)> {
        let mut tags = self.fields.iter().flat_map(|f| &f.tags);
        tags.find(|t| t.column == column).map(|t| t.middle)
    }
}

fn fields(build: &Build) -> Vec<Field<'_>> {
    let zones = build.bay.zones.iter();
    let mut fields: Vec<Field> = zones
        .map(|z| Field::new(&z.name, Some(format!("air:{}_c", z.name))))
        .collect();
    let floor = fields.len();
    fields.push(Field::new("under the floor", None));
    let mut put = |zone: Option<usize>, shape, name, column, note, limit_c| {
        let place = zone.filter(|z| *z < floor).unwrap_or(floor);
        fields[place].tags.push(Tag {
            shape,
            name,
            column,
            note,
            limit_c,
            middle: (0.0, 0.0),
        });
    };
    for part in &build.exhaust {
        let on = part.treatment.as_ref().map(|t| t.family.name());
        let column = skin(part);
        put(
            part.zone,
            Shape::Exhaust,
            part.name.as_str(),
            column,
            on,
            None,
        );
    }
    if let Some(turbo) = &build.turbo {
        for housing in ["bearing", "compressor"] {
            let column = format!("housing:{housing}_c");
            put(
                Some(turbo.zone),
                Shape::Housing,
                housing,
                column,
                None,
                None,
            );
        }
    }
    if let Some(cooler) = &build.intake.cooler {
        // the first slice of the core meets the charge first
        let column = "cooler:core/1_c".to_owned();
        put(
            Some(cooler.zone),
            Shape::Intake,
            "charge cooler",
            column,
            None,
            None,
        );
    }
    for duct in &build.intake.ducts {
        let column = format!("duct:{}_c", duct.name);
        put(
            Some(duct.zone),
            Shape::Intake,
            duct.name.as_str(),
            column,
            None,
            None,
        );
    }
    for part in &build.neighbours {
        let column = format!("neighbour:{}_c", part.name);
        let limit_c = Some(crate::quantity::celsius(part.limit_k));
        put(
            Some(part.zone),
            Shape::Neighbour,
            part.name.as_str(),
            column,
            None,
            limit_c,
        );
    }
    fields.retain(|f| f.column.is_some() || !f.tags.is_empty());
    fields
}

fn skin(part: &ExhaustPart) -> String {
    format!("skin:{}_c", part.name)
}

/// Places the usual zones around the engine, and any others below.
fn plan(build: &Build) -> Plan<'_> {
    let mut fields = fields(build);
    let widths = [("nose", 168.0), ("front", 326.0), ("hot", 326.0)];
    let whole = WIDE - BEHIND;
    for field in &mut fields {
        let own = widths.iter().find(|(name, _)| *name == field.name);
        field.w = match field.name {
            "upper" | "low" => whole,
            _ => own.map_or(WIDE, |(_, w)| *w),
        };
    }
    let need = |name: &str| {
        let field = fields.iter().find(|f| f.name == name);
        field.map_or(0.0, Field::need)
    };
    let rows = |h: f64| if h > 0.0 { h + GAP } else { 0.0 };
    let upper = need("upper");
    let middle = need("front").max(need("hot")).max(132.0);
    let low = need("low");
    let behind = rows(upper) + middle + if low > 0.0 { GAP + low } else { 0.0 };
    let all = behind.max(need("nose"));
    let middle = middle + all - behind;
    let middle_y = TOP + rows(upper);
    let mut y = TOP + all + GAP;
    for field in &mut fields {
        let place = match field.name {
            "nose" => (0.0, TOP, all),
            "upper" => (BEHIND, TOP, upper),
            "front" => (BEHIND, middle_y, middle),
            "hot" => (WIDE - 326.0, middle_y, middle),
            "low" => (BEHIND, middle_y + middle + GAP, low),
            _ => {
                let h = field.need();
                y += h + GAP;
                (0.0, y - h - GAP, h)
            }
        };
        field.place(place.0, place.1, place.2);
    }
    Plan {
        fields,
        engine: (BEHIND + 326.0 + GAP, middle_y, 140.0, middle),
        radiator: (168.0 + 4.0, TOP, 12.0, all),
        high: y,
    }
}

/// Where the gas passes, branch by branch, from the engine on.
fn exhaust_routes(build: &Build, plan: &Plan) -> Vec<String> {
    let (x, y, w, h) = plan.engine;
    let mut branches: Vec<u8> = build.exhaust.iter().map(|p| p.branch).collect();
    branches.sort_unstable();
    branches.dedup();
    let split: Vec<u8> = branches.iter().copied().filter(|b| *b > 0).collect();
    let ways = if split.is_empty() { vec![0] } else { split };
    ways.iter()
        .map(|way| {
            let own = build
                .exhaust
                .iter()
                .filter(|p| p.branch == 0 || p.branch == *way);
            let stops = own.filter_map(|p| plan.middle(&skin(p)));
            line([(x + w, y + 0.5 * h)].into_iter().chain(stops))
        })
        .collect()
}

/// Where the air passes: outside, ducts, compressor, cooler, plenum, engine.
fn intake_route(build: &Build, plan: &Plan) -> String {
    let mut stops = vec![Some((12.0, 12.0))];
    let piece = |place: IntakePlace| {
        let own = build.intake.ducts.iter().filter(move |d| d.place == place);
        own.map(|d| plan.middle(&format!("duct:{}_c", d.name)))
    };
    stops.extend(piece(IntakePlace::BeforeCompressor));
    stops.push(plan.middle("housing:compressor_c"));
    stops.extend(piece(IntakePlace::HotSide));
    stops.push(plan.middle("cooler:core/1_c"));
    stops.extend(piece(IntakePlace::ColdSide));
    stops.extend(piece(IntakePlace::Plenum));
    let (x, y, w, _) = plan.engine;
    stops.push(Some((x + 0.5 * w, y + 8.0)));
    line(stops.into_iter().flatten())
}

/// A route that leaves every stop level and turns between two of them.
fn line(stops: impl Iterator<Item = (f64, f64)>) -> String {
    let mut path = String::new();
    let mut last: Option<(f64, f64)> = None;
    for (x, y) in stops {
        match last {
            None => path.push_str(&format!("M{x:.0} {y:.0}")),
            Some((lx, ly)) => {
                let turn = 0.5 * (lx + x);
                path.push_str(&format!(
                    "C{turn:.0} {ly:.0} {turn:.0} {y:.0} {x:.0} {y:.0}"
                ));
            }
        }
        last = Some((x, y));
    }
    path
}

/// As many letters of a name as fit.
fn short(name: &str) -> String {
    const MOST: usize = 20;
    if name.chars().count() <= MOST {
        return name.to_owned();
    }
    let mut cut: String = name.chars().take(MOST - 1).collect();
    cut.push('…');
    cut
}

/// The drawing.
pub(super) fn bay(build: &Build) -> Markup {
    let plan = plan(build);
    let routes = exhaust_routes(build, &plan);
    let intake = intake_route(build, &plan);
    let high = plan.high;
    let radiator = plan.radiator;
    html! {
        svg class="bay" viewBox=(format!("-3 0 {} {:.0}", WIDE + 6.0, high + 3.0)) role="img" aria-labelledby="bay-title" {
            title id="bay-title" { "The bay of this car in section, nose to the left, coloured by temperature; the table below gives the same in numbers" }
            text class="outside" x=(BEHIND) y="26" { "outside air, " tspan data-column="ambient_c" class="number" {} }
            @for field in &plan.fields { (area(field)) }
            g data-column="engine:radiator_c" {
                title { "radiator" }
                rect class="fill" x=(radiator.0) y=(radiator.1) width=(radiator.2) height=(radiator.3) rx="3" {}
            }
            path class="route intake" d=(intake) {}
            @for route in &routes { path class="route exhaust" d=(route) {} }
            // what lies beside the engine passes behind it here
            (engine(plan.engine))
            (engine_words(plan.engine))
            @for field in &plan.fields { (area_words(field)) }
            @for field in &plan.fields { @for item in &field.tags { (tag(item)) } }
        }
    }
}

fn area(field: &Field) -> Markup {
    let (x, y) = (field.x, field.y);
    html! {
        g class="field" data-column=[field.column.as_deref()] data-name=(field.name) {
            rect class=(if field.column.is_some() { "fill" } else { "plain" })
                x=(format!("{x:.0}")) y=(format!("{y:.0}")) width=(field.w) height=(format!("{:.0}", field.h)) rx="6" {}
        }
    }
}

/// Above the routes that pass.
fn area_words(field: &Field) -> Markup {
    let (x, y) = (field.x + GAP, field.y + 18.0);
    html! {
        g class="field" data-column=[field.column.as_deref()] data-only="text" {
            text class="ink" x=(format!("{x:.0}")) y=(format!("{y:.0}")) { (short(field.name)) " " tspan class="number" {} }
        }
    }
}

fn engine((x, y, w, h): (f64, f64, f64, f64)) -> Markup {
    html! {
        g data-column="engine:block_c" data-name="engine block" {
            rect class="fill block" x=(x) y=(format!("{y:.0}")) width=(w) height=(format!("{h:.0}")) rx="2" {}
        }
    }
}

fn engine_words((x, y, w, h): (f64, f64, f64, f64)) -> Markup {
    let middle = x + 0.5 * w;
    let rows = [
        ("block", "engine:block_c"),
        ("coolant", "engine:coolant_c"),
        ("oil", "engine:oil_c"),
    ];
    html! {
        g data-column="engine:block_c" {
            rect class="fill" x=(x + 10.0) y=(format!("{:.0}", y + 0.5 * h - 32.0)) width=(w - 20.0) height="66" {}
        }
        @for (i, (name, column)) in rows.iter().enumerate() {
            g data-column=(column) data-only="text" data-ink="engine:block_c" {
                text class="ink" text-anchor="middle" x=(middle) y=(format!("{:.0}", y + 0.5 * h - 14.0 + 20.0 * i as f64)) {
                    (name) " " tspan class="number" {}
                }
            }
        }
    }
}

fn tag(tag: &Tag) -> Markup {
    let (mx, my) = tag.middle;
    let (x, y) = (mx - 0.5 * TAG_WIDE, my - 0.5 * TAG_HIGH);
    let round = match tag.shape {
        Shape::Exhaust | Shape::Housing => 0.5 * TAG_HIGH,
        Shape::Intake => 0.0,
        Shape::Neighbour => 8.0,
    };
    html! {
        g class=(format!("tag {}", tag.shape.class())) data-column=(tag.column) data-name=(tag.name)
            data-limit=[tag.limit_c.map(|c| format!("{c:.1}"))] {
            title { (tag.name) }
            rect class="fill" x=(format!("{x:.0}")) y=(format!("{y:.0}")) width=(TAG_WIDE) height=(TAG_HIGH) rx=(round) {}
            text class="ink" text-anchor="middle" x=(format!("{mx:.0}")) y=(format!("{:.0}", my - 4.0)) { (short(tag.name)) }
            text class="ink" text-anchor="middle" x=(format!("{mx:.0}")) y=(format!("{:.0}", my + 13.0)) {
                tspan class="number" {}
                @if let Some(note) = tag.note { " · " (note) }
                tspan class="room" {}
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::{Chooser, builtin, builtins};

    fn drawn(name: &str) -> String {
        let sheet = builtin(name).unwrap();
        let settled = sheet.settle(&mut Chooser::Likely).unwrap();
        bay(&settled.build).into_string()
    }

    #[test]
    fn every_part_zone_duct_and_neighbour_of_a_build_is_in_its_drawing() {
        for own in builtins() {
            let settled = builtin(own.name).unwrap();
            let build = settled.settle(&mut Chooser::Likely).unwrap().build;
            let text = drawn(own.name);
            let has = |column: String| {
                let wanted = format!("data-column=\"{column}\"");
                assert!(text.contains(&wanted), "{}: {wanted}", own.name);
            };
            build.exhaust.iter().for_each(|p| has(skin(p)));
            build
                .bay
                .zones
                .iter()
                .for_each(|z| has(format!("air:{}_c", z.name)));
            build
                .intake
                .ducts
                .iter()
                .for_each(|d| has(format!("duct:{}_c", d.name)));
            build
                .neighbours
                .iter()
                .for_each(|n| has(format!("neighbour:{}_c", n.name)));
            assert_eq!(text.contains("housing:bearing_c"), build.turbo.is_some());
            assert!(!text.contains("NaN") && !text.contains("inf"));
        }
    }

    #[test]
    fn no_two_tags_lie_on_each_other() {
        for own in builtins() {
            let sheet = builtin(own.name).unwrap();
            let build = sheet.settle(&mut Chooser::Likely).unwrap().build;
            let plan = plan(&build);
            let tags: Vec<&Tag> = plan.fields.iter().flat_map(|f| &f.tags).collect();
            for (i, a) in tags.iter().enumerate() {
                assert!(a.middle.1 + 0.5 * TAG_HIGH < plan.high, "{}", a.name);
                for b in &tags[..i] {
                    let apart = (a.middle.0 - b.middle.0).abs() >= TAG_WIDE
                        || (a.middle.1 - b.middle.1).abs() >= TAG_HIGH;
                    assert!(apart, "{}: {} and {}", own.name, a.name, b.name);
                }
            }
        }
    }
}
