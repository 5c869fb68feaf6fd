//! Faults that take more than one key to see.

use super::one_fault::{LEAST, faults, starter};

#[test]
fn engine_figures_must_go_together() {
    faults! { LEAST.to_owned();
        "torque_nm = 190" => "torque_nm = 190\npower_rpm = 4000", "power_kw", "engine.power_kw", "more than the torque allows", "190 Nm at 4000 rpm is 79.59 kW";
        "power_kw = 110" => "power_kw = 20", "power_kw", "engine.power_kw", "far less than the torque gives", "190 Nm at 6500 rpm is 129.3 kW";
        "torque_nm = 190" => "torque_nm = 190\nredline_rpm = 5000", "redline_rpm", "engine.redline_rpm", "must be above power_rpm, which is 7150", "far ends";
        "torque_nm = 190" => "torque_nm = 190\npower_rpm = 6000\ntorque_rpm = 6500", "torque_rpm", "engine.torque_rpm", "must be below power_rpm, which is 6000", "far ends";
        "torque_nm = 190" => "torque_nm = 190\nthermostat_open_c = 100", "thermostat_open_c", "engine.thermostat_open_c", "must be below thermostat_full_c, which is 97", "give both keys";
    }
}

#[test]
fn torque_must_fit_the_displacement() {
    faults! { LEAST.to_owned();
        "displacement_l = 2.0" => "displacement_l = 0.5", "torque_nm", "engine.torque_nm", "too much for the displacement", "kPa";
        "displacement_l = 2.0" => "displacement_l = 8.0", "torque_nm", "engine.torque_nm", "too little for the displacement", "kPa";
    }
}

#[test]
fn turbine_and_turbocharger_come_together() {
    faults! { LEAST.to_owned();
        "length_mm = 300" => "length_mm = 300\n[turbocharger]", "[turbocharger]", "turbocharger", "the exhaust has no turbine", "kind = \"turbine\"";
        "kind = \"runner\"" => "kind = \"turbine\"", "kind = \"turbine\"", "exhaust[manifold].kind", "a turbine without [turbocharger]", "add a [turbocharger] section";
        "length_mm = 300" => "length_mm = 300\n[intake.cooler]\nkind = \"front\"", "[intake.cooler]", "intake.cooler", "a charge cooler without [turbocharger]", "drop the cooler";
        "length_mm = 300" => "length_mm = 300\n[[intake.duct]]\nname = \"d\"\nplace = \"hot_side\"\nbore_mm = 60\nlength_mm = 500", "place = \"hot_side\"", "intake.duct[d].place", "needs a [turbocharger]", "use before_compressor or plenum";
    }
    faults! { starter("demo");
        "kind = \"downpipe\"" => "kind = \"turbine\"", "name = \"downpipe\"\nkind = \"turbine\"", "exhaust[downpipe].kind", "a second turbine", "one turbine";
        "boost_kpa = 75" => "boost_kpa = 390", "boost_kpa", "turbocharger.boost_kpa", "doesn't go with the torque", "250 Nm from this displacement needs about";
        "water_cooled = true" => "water_cooled = false\nbearing_water_w_k = 40", "bearing_water_w_k", "turbocharger.bearing_water_w_k", "needs a water cooled bearing housing", "set it to 0";
        "kind = \"front\"" => "kind = \"front\"\nwater_l = 2", "water_l", "intake.cooler.water_l", "only a water cooled one has this", "kind = \"water\"";
    }
}

#[test]
fn banks_must_be_whole_and_join() {
    faults! { LEAST.to_owned();
        "kind = \"runner\"" => "kind = \"runner\"\nbranch = 1", "branch", "exhaust[manifold].branch", "branch 2 has no part", "drop branch here";
        "kind = \"runner\"" => "kind = \"runner\"\nbranch = 3", "branch", "exhaust[manifold].branch", "above the limit of 2", "0 to 2";
        "length_mm = 300" => "length_mm = 300\nconversion = 0.9", "conversion", "exhaust[manifold].conversion", "only a catalyst has this", "kind = \"catalyst\"";
    }
    let two = |b: &str| {
        let part = LEAST.split("[[exhaust]]").nth(1).unwrap_or_default();
        format!(
            "{LEAST}branch = 1\n[[exhaust]]{}branch = 2\n{b}",
            part.replace("manifold", "other")
        )
    };
    let tail = "[[exhaust]]\nname = \"tail\"\nkind = \"pipe\"\nmetal = \"mild-steel\"\nbore_mm = 50\nlength_mm = 900\n";
    faults! { two(tail);
        "length_mm = 900" => "length_mm = 900\nbranch = 2", "length_mm = 900\nbranch = 2", "exhaust[tail].branch", "the two branches never join", "branch = 0";
    }
}

#[test]
fn parts_must_stand_in_flow_order() {
    faults! { starter("v8");
        "name = \"right collector\"\nkind = \"collector\"\nbranch = 2" => "name = \"right collector\"\nkind = \"collector\"", "name = \"right catalyst\"\nkind = \"catalyst\"\nbranch = 2", "exhaust[right catalyst].branch", "a branch after a joined part", "both branches first";
        "name = \"crossover\"\nkind = \"pipe\"" => "name = \"crossover\"\nkind = \"runner\"", "name = \"crossover\"\nkind = \"runner\"", "exhaust[crossover].kind", "a runner behind turbine, catalyst or downpipe", "engine first";
    }
    faults! { starter("demo");
        "name = \"hot pipe\"\nplace = \"hot_side\"" => "name = \"hot pipe\"\nplace = \"plenum\"", "name = \"cold pipe\"\nplace = \"cold_side\"", "intake.duct[cold pipe].place", "ducts are out of flow order", "before_compressor, hot_side, cold_side, plenum";
        "kind = \"front\"" => "kind = \"none\"", "cold_side", "intake.duct[cold pipe].place", "needs a charge cooler", "hot_side";
    }
}

#[test]
fn names_must_lead_somewhere() {
    faults! { starter("demo");
        "metal = \"ni-resist-d5s\"" => "metal = \"ni-resist-d5\"", "ni-resist-d5", "exhaust[turbine].metal", "unknown material", "did you mean ni-resist-d5s";
        "length_mm = 130\nzone = \"hot\"" => "length_mm = 130\nzone = \"hott\"", "hott", "exhaust[runners].zone", "no zone of this name", "did you mean hot?";
        "after = \"cold pipe\"" => "after = \"cold pype\"", "after", "intake.sensor.after", "no duct of this name", "did you mean cold pipe?";
        "sees = { runners = 0.1 }" => "sees = { runner = 0.1 }", "runner = 0.1", "neighbour[heater hose].sees.runner", "no surface of this name", "did you mean runners?";
        "sees = { runners = 0.1 }" => "sees = { \"heater hose\" = 0.1 }", "= 0.1 }", "neighbour[heater hose].sees.heater hose", "sees itself", "leave out";
        "pickup = { nose = " => "pickup = { noze = ", "pickup", "intake.pickup.noze", "no zone of this name", "did you mean nose?";
        "builtin = \"day\"" => "builtin = \"dayy\"", "dayy", "cycle.builtin", "no cycle of this name", "did you mean day?";
        "builtin = \"day\"" => "", "[cycle]", "cycle", "names no cycle", "drop the section";
        "[bay.radiator]" => "[[bay.zone]]\nname = \"outside\"\n[bay.radiator]", "name = \"outside\"", "bay.zone[outside].name", "reserved name", "choose another name";
        "name = \"collector\"" => "name = \"runners\"", "zone = \"hot\"\n\n[[exhaust]]", "exhaust[runners]", "a second one of this name", "its own name";
    }
}

#[test]
fn shares_must_not_exceed_the_whole() {
    faults! { starter("demo");
        "sees = { runners = 0.1 }" => "sees = { runners = 0.7, turbine = 0.4 }", "runners = 0.7", "neighbour[heater hose].sees", "view factors add up to 1.10", "1 or less";
        "[bay.radiator]" => "[bay.block_share]\nhot = 0.3\nupper = 0.3\n[bay.radiator]", "[bay.block_share]", "bay.block_share", "shares add up to 0.60", "add up to 1";
    }
    faults! { starter("v8");
        "outside = 0.8, nose" => "outside = 0.9, nose", "outside = 0.9", "intake.pickup", "shares add up to 1.10", "1 or less";
    }
}

#[test]
fn bay_parts_must_be_complete() {
    faults! { starter("demo");
        "off_c = 93" => "off_c = 99", "off_c", "bay.fan.off_c", "must be below on_c, which is 98", "far ends";
        "[bay.radiator]" => "[[bay.opening]]\nname = \"louvre\"\nfrom = \"hot\"\n[bay.radiator]", "height_mm = 640\n\n[[bay.opening]]", "bay.opening[louvre]", "a new opening needs from, to and area_cm2", "adjust a default one: grille";
        "[bay.radiator]" => "[[bay.opening]]\nname = \"louvre\"\nfrom = \"hot\"\nto = \"hot\"\narea_cm2 = 90\n[bay.radiator]", "to = \"hot\"", "bay.opening[louvre].to", "leads to where it comes from", "two different zones";
        "[bay.radiator]" => "[[bay.opening]]\nname = \"radiator\"\narea_cm2 = 0\n[bay.radiator]", "[[bay.opening]]", "bay.opening", "0 openings with role radiator", "keep the default one";
        "[bay.radiator]" => "[[bay.panel]]\nname = \"cover\"\n[bay.radiator]", "height_mm = 640\n\n[[bay.panel]]", "bay.panel[cover]", "a new panel needs area_m2 and zone", "adjust a default one: bonnet";
        "name = \"starter\"\nkind = \"starter\"" => "name = \"starter\"", "kind = \"clutch_fluid\"\nzone = \"low\"\n\n[[neighbour]]", "neighbour[starter]", "needs mass_kg, area_cm2, limit_c", "or a kind";
        "28.4, 35.6, 42.8]" => "35.6, 28.4, 42.8]", "kmh_per_1000_rpm", "car.kmh_per_1000_rpm", "gears don't rise", "lowest first";
    }
}
