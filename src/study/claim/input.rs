//! A claim as written: what is said to change, by how much, where, and what is known of the treatment.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::point::At;
use crate::materials::{LayerMaterial, layer_material, layer_materials, treatment, treatments};
use crate::sheet::build::Build;
use crate::sheet::{Input, Read, SheetError, mean_or_list};

/// What a claim is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// Temperature of a part's surface.
    SkinTemperature,
    /// Heat that a part gives off.
    HeatFlow,
    /// Air in the bay.
    BayAir,
    /// Air in the intake.
    IntakeAir,
    /// Engine power.
    Power,
    /// Gas temperature into the turbine.
    TurbineInlet,
    /// Energy that reaches the turbine.
    Spool,
    /// How easily the gas flows.
    GasFlow,
    /// Temperature that the treatment bears.
    ServiceTemperature,
    /// Temperature of something near the heat.
    NeighbourTemperature,
}

impl Quantity {
    /// All quantities.
    pub const ALL: [Self; 10] = [
        Self::SkinTemperature,
        Self::HeatFlow,
        Self::BayAir,
        Self::IntakeAir,
        Self::Power,
        Self::TurbineInlet,
        Self::Spool,
        Self::GasFlow,
        Self::ServiceTemperature,
        Self::NeighbourTemperature,
    ];

    /// Words for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::SkinTemperature => "surface temperature",
            Self::HeatFlow => "heat given off",
            Self::BayAir => "bay air",
            Self::IntakeAir => "intake air",
            Self::Power => "power",
            Self::TurbineInlet => "gas into the turbine",
            Self::Spool => "energy into the turbine",
            Self::GasFlow => "ease of gas flow",
            Self::ServiceTemperature => "service temperature",
            Self::NeighbourTemperature => "nearby part",
        }
    }

    /// Where it is looked at when the claim doesn't say.
    fn usual_points(self) -> [At; 2] {
        match self {
            Self::Power | Self::Spool | Self::GasFlow | Self::TurbineInlet => {
                [At::FullLoad, At::Motorway]
            }
            Self::ServiceTemperature => [At::Hill, At::Motorway],
            Self::NeighbourTemperature => [At::Motorway, At::KeyOff],
            _ => [At::Motorway, At::Idle],
        }
    }

    /// Whether it is a temperature, so that a change can be in K.
    fn is_temperature(self) -> bool {
        !matches!(
            self,
            Self::HeatFlow | Self::Power | Self::Spool | Self::GasFlow
        )
    }
}

/// How much.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "kind", content = "value")]
pub enum Change {
    /// Change in percent of something, negative for less [%].
    Percent(f64),
    /// Change of a temperature, negative for cooler [K].
    Kelvin(f64),
    /// Temperature that is reached or borne [degC].
    Reaches(f64),
}

/// A change without a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Less, cooler.
    Less,
    /// More, hotter.
    More,
}

/// Where no number is claimed: the least change that a workshop can tell [K] or [%] (estimate).
const LEAST_CHANGE: f64 = 1.0;

impl Side {
    fn change(self, quantity: Option<Quantity>) -> Change {
        let size = match self {
            Self::Less => -LEAST_CHANGE,
            Self::More => LEAST_CHANGE,
        };
        if quantity.is_some_and(Quantity::is_temperature) {
            Change::Kelvin(size)
        } else {
            Change::Percent(size)
        }
    }
}

/// A claim, as in a file.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
pub struct ClaimSheet {
    /// The words of the claim, for the report.
    pub text: Option<String>,
    /// What it is about.
    pub quantity: Option<Quantity>,
    /// Change, negative for less [%].
    #[schemars(extend("minimum" = -100, "maximum" = 1000))]
    pub change_percent: Option<f64>,
    /// Change of a temperature, negative for cooler [K].
    #[schemars(extend("minimum" = -1500, "maximum" = 1500))]
    pub change_k: Option<f64>,
    /// Less or more, where no number is claimed.
    pub change: Option<Side>,
    /// Temperature that is reached or borne [C].
    #[schemars(extend("minimum" = -50, "maximum" = 3000))]
    pub reaches_c: Option<f64>,
    /// Exhaust part that is treated; all in the bay where left out.
    pub part: Option<String>,
    /// Zone whose air is meant.
    pub zone: Option<String>,
    /// Nearby part that is meant.
    pub neighbour: Option<String>,
    /// When: country, motorway, hill, full-load, idle, key-off, town, track; two that suit the quantity where left out.
    pub at: Option<At>,
    /// What is known of the treatment.
    pub treatment: Option<KnownSheet>,
}

/// What is known of the treatment, `[treatment]`.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
pub struct KnownSheet {
    /// A treatment of the catalogue; nothing else is needed then.
    pub catalogue: Option<String>,
    /// A layer material of the catalogue, for what isn't stated below.
    pub material: Option<String>,
    /// Thickness [mm].
    #[schemars(extend("minimum" = 0.005, "maximum" = 100))]
    pub thickness_mm: Option<Input>,
    /// Conductivity [W/m/K].
    #[schemars(extend("minimum" = 0.005, "maximum" = 500))]
    pub conductivity_w_mk: Option<Input>,
    /// Emissivity of the outer face [-].
    #[schemars(extend("minimum" = 0.02, "maximum" = 1))]
    pub emissivity: Option<Input>,
    /// On the gas side instead of the outside.
    pub inside: Option<bool>,
}

/// A checked claim.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// The words of the claim.
    pub text: String,
    /// What it is about.
    pub quantity: Quantity,
    /// How much.
    pub change: Change,
    /// Exhaust part; all in the bay where `None`.
    pub part: Option<String>,
    /// Zone.
    pub zone: Option<String>,
    /// Nearby part.
    pub neighbour: Option<String>,
    /// When.
    pub at: Vec<At>,
    /// Treatment.
    pub known: Known,
}

/// What is known of the treatment.
#[derive(Debug, Clone, PartialEq)]
pub enum Known {
    /// One of the catalogue.
    Catalogue(String),
    /// One layer.
    Layer(LayerKnown),
}

/// A layer with ranges where nothing is stated.
#[derive(Debug, Clone, PartialEq)]
pub struct LayerKnown {
    /// Thickness [mm].
    pub thickness_mm: Input,
    /// Conductivity at 300 K [W/m/K].
    pub conductivity_w_mk: Input,
    /// Rise of conductivity [W/m/K2].
    pub slope_w_mk2: f64,
    /// Emissivity of the outer face [-].
    pub emissivity: Input,
    /// Density [kg/m3].
    pub density_kg_m3: f64,
    /// Specific heat [J/kg/K].
    pub specific_heat_j_kgk: f64,
    /// On the gas side.
    pub inside: bool,
    /// What was not stated, and what was taken instead.
    pub taken: Vec<String>,
}

/// Thickness up to which a layer counts as a coat, and up to which as a wrap [mm] (common practice, no source).
const COAT_MM: f64 = 1.0;
const WRAP_MM: f64 = 6.0;

fn span(of: &crate::materials::Ranged) -> Input {
    Input {
        low: of.low,
        likely: of.likely,
        high: of.high,
    }
}

/// Both ranges together, the middle of the first.
fn union(a: Input, b: Input) -> Input {
    Input {
        low: a.low.min(b.low),
        likely: a.likely,
        high: a.high.max(b.high),
    }
}

impl LayerKnown {
    /// Fills in what a layer of this kind can be. Without a material and a thickness, a thin coat.
    fn new(sheet: &KnownSheet) -> Option<Self> {
        let mm = sheet.thickness_mm.map(|t| t.likely);
        let id = sheet.material.as_deref().unwrap_or(match mm {
            Some(mm) if mm > WRAP_MM => "ceramic-fibre-blanket",
            Some(mm) if mm > COAT_MM => "glass-cloth",
            _ => "ceramic-paint",
        });
        let material: &LayerMaterial = layer_material(id)?;
        let mut conductivity = span(&material.conductivity_w_mk);
        let mut emissivity = span(&material.emissivity);
        let mut name = material.name.to_lowercase();
        // an unnamed thin coat may be anything from sprayed oxide to one full of metal flakes
        if sheet.material.is_none() && id == "ceramic-paint" {
            conductivity = union(
                conductivity,
                span(&layer_material("sprayed-zirconia")?.conductivity_w_mk),
            );
            emissivity = union(
                emissivity,
                span(&layer_material("metallic-finish")?.emissivity),
            );
            name = "thin coats of all kinds".to_owned();
        }
        let mut taken = Vec::new();
        let mut take = |what: &str, stated: Option<Input>, usual: Input, unit: &str| {
            stated.unwrap_or_else(|| {
                taken.push(format!(
                    "{what} {} to {}{unit} ({name})",
                    usual.low, usual.high
                ));
                usual
            })
        };
        let stated_k = sheet.conductivity_w_mk;
        Some(Self {
            thickness_mm: take(
                "thickness",
                sheet.thickness_mm,
                span(&material.thickness_mm),
                " mm",
            ),
            conductivity_w_mk: take("conductivity", stated_k, conductivity, " W/m/K"),
            // a stated number is taken as it is, whatever the temperature
            slope_w_mk2: stated_k.map_or(material.conductivity_slope_w_mk2.likely, |_| 0.0),
            emissivity: take("emissivity", sheet.emissivity, emissivity, ""),
            density_kg_m3: material.density_kg_m3.likely,
            specific_heat_j_kgk: material.specific_heat_j_kgk.likely,
            inside: sheet.inside.unwrap_or(false),
            taken,
        })
    }
}

impl ClaimSheet {
    /// Reads a claim; `file` is only for messages.
    ///
    /// # Errors
    /// All problems of syntax, keys and values, and of names that the build doesn't have.
    pub fn parse(text: &str, file: &str, build: &Build) -> Result<Claim, SheetError> {
        checked(Read::<Self>::parse(text, file)?, build)
    }
}

fn checked(mut read: Read<ClaimSheet>, build: &Build) -> Result<Claim, SheetError> {
    let sheet = read.content.clone();
    let quantity = sheet.quantity;
    if quantity.is_none() {
        let all = Quantity::ALL.map(word);
        read.fault(
            "quantity",
            "is missing",
            format!("there is: {}", all.join(", ")),
        );
    }
    let changes = [
        ("change_percent", sheet.change_percent.map(Change::Percent)),
        ("change_k", sheet.change_k.map(Change::Kelvin)),
        ("reaches_c", sheet.reaches_c.map(Change::Reaches)),
        ("change", sheet.change.map(|side| side.change(quantity))),
    ];
    let given: Vec<_> = changes.iter().filter(|(_, c)| c.is_some()).collect();
    if given.len() != 1 {
        let hint = "give one of change_percent, change_k, reaches_c and change (less or more)";
        let key = given.last().map_or("change_percent", |(key, _)| key);
        let message = match given.len() {
            0 => "no change is given".to_owned(),
            n => format!("{n} changes are given"),
        };
        read.fault(key, message, hint);
    }
    for (key, change) in &changes {
        let (Some(change), Some(quantity)) = (change, quantity) else {
            continue;
        };
        let wrong = match change {
            Change::Percent(_) => quantity == Quantity::ServiceTemperature,
            Change::Kelvin(_) => {
                !quantity.is_temperature() || quantity == Quantity::ServiceTemperature
            }
            Change::Reaches(_) => !quantity.is_temperature(),
        };
        if wrong {
            let hint = match (quantity.is_temperature(), change) {
                (false, _) => "write change_percent",
                (true, _) => "write reaches_c",
            };
            read.fault(key, format!("doesn't go with {}", quantity.name()), hint);
        }
        if matches!(change, Change::Percent(v) | Change::Kelvin(v) if *v == 0.0) {
            read.fault(key, "no change at all", "less is negative, more positive");
        }
    }
    names(&mut read, &sheet, quantity, build);
    let known = known(&mut read, &sheet.treatment.clone().unwrap_or_default());
    let (Some(quantity), Some(&(_, Some(change))), Some(known)) =
        (quantity, given.first().copied(), known)
    else {
        return Err(read.finish().err().unwrap_or_else(|| SheetError {
            file: String::new(),
            problems: Vec::new(),
        }));
    };
    read.finish()?;
    let mut text = sheet.text.unwrap_or_else(|| plain(quantity, change));
    if sheet.change.is_some() {
        let unit = if quantity.is_temperature() { "K" } else { "%" };
        text.push_str(&format!(
            " (no number claimed: {LEAST_CHANGE} {unit} is looked for)"
        ));
    }
    Ok(Claim {
        text,
        quantity,
        change,
        part: sheet.part,
        zone: sheet.zone,
        neighbour: sheet.neighbour,
        at: sheet
            .at
            .map_or_else(|| quantity.usual_points().to_vec(), |at| vec![at]),
        known,
    })
}

/// As written in a file.
fn word(quantity: Quantity) -> String {
    serde_json::to_value(quantity)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default()
}

fn plain(quantity: Quantity, change: Change) -> String {
    let less = |v: f64, unit: &str| {
        let side = if v < 0.0 { "less" } else { "more" };
        format!("{}: {} {unit} {side}", quantity.name(), v.abs())
    };
    match change {
        Change::Percent(v) => less(v, "%"),
        Change::Kelvin(v) => less(v, "K"),
        Change::Reaches(v) => format!("{}: {v} degC", quantity.name()),
    }
}

fn names(
    read: &mut Read<ClaimSheet>,
    sheet: &ClaimSheet,
    quantity: Option<Quantity>,
    build: &Build,
) {
    let parts = build.exhaust.iter().map(|p| p.name.as_str());
    let zones = build.bay.zones.iter().map(|z| z.name.as_str());
    let neighbours = build.neighbours.iter().map(|n| n.name.as_str());
    let mut known = |key: &str, name: &Option<String>, all: Vec<&str>, what: &str| {
        if let Some(name) = name
            && !all.contains(&name.as_str())
        {
            let hint = mean_or_list(name, all.iter().copied());
            read.fault(key, format!("no {what} of this name in the build"), hint);
        }
    };
    known("part", &sheet.part, parts.collect(), "exhaust part");
    known("zone", &sheet.zone, zones.collect(), "zone");
    known(
        "neighbour",
        &sheet.neighbour,
        neighbours.clone().collect(),
        "nearby part",
    );
    if quantity == Some(Quantity::NeighbourTemperature) && sheet.neighbour.is_none() {
        let all: Vec<&str> = neighbours.collect();
        read.fault(
            "neighbour",
            "is missing",
            format!("there is: {}", all.join(", ")),
        );
    }
    let turbo = build.turbo.is_some();
    if matches!(quantity, Some(Quantity::Spool | Quantity::TurbineInlet)) && !turbo {
        read.fault(
            "quantity",
            "the build has no turbine",
            "choose another quantity",
        );
    }
}

fn known(read: &mut Read<ClaimSheet>, sheet: &KnownSheet) -> Option<Known> {
    if let Some(id) = &sheet.catalogue {
        let rest = KnownSheet {
            catalogue: None,
            ..sheet.clone()
        };
        if rest != KnownSheet::default() {
            let hint = "drop the other keys, or drop catalogue and state the layer";
            read.fault(
                "treatment.catalogue",
                "stands beside other properties",
                hint,
            );
        }
        if treatment(id).is_none() {
            let hint = mean_or_list(id, treatments().iter().map(|t| t.id.as_str()));
            read.fault("treatment.catalogue", "no treatment of this name", hint);
        }
        return Some(Known::Catalogue(id.clone()));
    }
    let layer = LayerKnown::new(sheet);
    if layer.is_none() {
        let id = sheet.material.as_deref().unwrap_or("");
        let hint = mean_or_list(id, layer_materials().iter().map(|m| m.id.as_str()));
        read.fault("treatment.material", "no layer material of this name", hint);
    }
    layer.map(Known::Layer)
}
