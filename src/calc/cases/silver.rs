//! Definitions: silver in baths and waste, units, limits and categories.

use serde_json::Value;

use super::darkroom::{BATH, area};
use super::definition::{Definition, Input, Kind, Refusal, Values, number, of};
use super::given::Item;
use crate::calc::quantity::{
    Capacity, CarryOver, DissolvedShare, GramsPerLitre, GramsPerSquareMetre, Litres, MilligramsPerLitre,
};
use crate::calc::silver::{bath, units, waste};

pub fn definitions() -> Vec<Definition> {
    let mut all = baths();
    all.extend(conversions());
    all.extend(wastes());
    all
}

const SOME_SILVER: Kind = number(0.001, 50.0, "g/m²");

fn baths() -> Vec<Definition> {
    vec![
        Definition::new("silver_dissolved", &["area_m2", "silver_g", "silver_g_per_l", "troy_oz"], |g| {
            let area = area(g)?;
            let delivered = match g.find("delivered_g_m2")? {
                Some(delivered) => delivered,
                None => bath::delivered(g.get("coating_g_m2")?, g.get("dissolved_share")?),
            };
            let (bath_l, already) = (g.get("bath_l")?, g.get("already_g_per_l")?);
            let silver = bath::silver_dissolved(area, delivered, bath_l, already);
            Ok(Values::new()
                .with("area_m2", area.as_m2())
                .with("silver_g", silver.silver_g)
                .with("silver_g_per_l", silver.g_per_l)
                .with("troy_oz", silver.troy_oz)
                .with_working(bath::silver_dissolved_working(area, delivered, bath_l, already)))
        })
        .takes("sheets", Kind::Sheets)
        .takes("delivered_g_m2", of::<GramsPerSquareMetre>())
        .takes("coating_g_m2", of::<GramsPerSquareMetre>())
        .takes("dissolved_share", of::<DissolvedShare>())
        .either(&[&["delivered_g_m2"], &["coating_g_m2", "dissolved_share"]])
        .takes("bath_l", BATH)
        .defaults("already_g_per_l", of::<GramsPerLitre>(), Item::Number(0.0)),
        Definition::new("carry_over", &["volume_ml", "silver_mg"], |g| {
            let (area, rate, silver) = (area(g)?, g.get("carry_over_ml_per_m2")?, g.get("silver_g_per_l")?);
            let carried = bath::carry_over(area, rate, silver);
            Ok(Values::new()
                .with("volume_ml", carried.volume.as_ml())
                .with("silver_mg", carried.silver_mg)
                .with_working(bath::carry_over_working(area, rate, silver)))
        })
        .takes("sheets", Kind::Sheets)
        .takes("carry_over_ml_per_m2", of::<CarryOver>())
        .defaults("silver_g_per_l", of::<GramsPerLitre>(), Item::Number(0.0)),
        Definition::new("silver_room_left", &["area_m2", "whole_sheets"], |g| {
            let (limit, bath, delivered) = (g.get("limit_g_per_l")?, g.get("bath_l")?, g.get("delivered_g_m2")?);
            let (room, sheet) = (bath::silver_room(limit, bath, delivered), g.sheet("sheet")?.area());
            Ok(Values::new()
                .with("area_m2", room.as_m2())
                .with("whole_sheets", bath::whole_sheets(room, sheet))
                .with_working(bath::silver_room_working(limit, bath, delivered, sheet)))
        })
        .takes("limit_g_per_l", of::<GramsPerLitre>())
        .takes("bath_l", BATH)
        .takes("delivered_g_m2", SOME_SILVER)
        .takes("sheet", Kind::Sheet),
        Definition::new("silver_delivered_from_capacity", &["delivered_g_m2"], |g| {
            let (capacity, limit) = (g.get("capacity_m2_per_l")?, g.get("silver_g_per_l")?);
            Ok(Values::new()
                .with("delivered_g_m2", bath::silver_delivered_from_capacity(capacity, limit).as_g_m2())
                .with_working(bath::silver_delivered_working(capacity, limit)))
        })
        .takes("capacity_m2_per_l", of::<Capacity>())
        .takes("silver_g_per_l", of::<GramsPerLitre>()),
    ]
}

fn conversions() -> Vec<Definition> {
    let mass = number(0.0, 1e9, "");
    vec![
        Definition::new("coating_weight", &["coating_g_m2"], |g| {
            let (coating, working) = if g.has("mg_per_ft2") {
                let mg = g.number("mg_per_ft2")?;
                (units::coating_weight_from_mg_per_ft2(mg), units::coating_weight_from_mg_per_ft2_working(mg))
            } else {
                let oz = g.number("troy_oz_per_1000_ft2")?;
                (
                    units::coating_weight_from_troy_oz_per_1000_ft2(oz),
                    units::coating_weight_from_troy_oz_per_1000_ft2_working(oz),
                )
            };
            Ok(Values::new().with("coating_g_m2", coating.as_g_m2()).with_working(working))
        })
        .takes("mg_per_ft2", number(0.0, 4000.0, "mg/ft²"))
        .takes("troy_oz_per_1000_ft2", number(0.0, 140.0, "troy oz/1000 ft²"))
        .either(&[&["mg_per_ft2"], &["troy_oz_per_1000_ft2"]]),
        Definition::new("troy_ounces", &["troy_oz", "silver_g"], |g| {
            Ok(if g.has("silver_g") {
                let silver = g.number("silver_g")?;
                Values::new()
                    .with("troy_oz", units::troy_ounces(silver))
                    .with_working(units::troy_ounces_working(silver))
            } else {
                let troy = g.number("troy_oz")?;
                Values::new().with("silver_g", units::grams(troy)).with_working(units::grams_working(troy))
            })
        })
        .takes("silver_g", mass.clone())
        .takes("troy_oz", mass)
        .either(&[&["silver_g"], &["troy_oz"]]),
    ]
}

fn wastes() -> Vec<Definition> {
    let part =
        vec![Input::required("volume_l", of::<Litres>()), Input::required("silver_g_per_l", of::<GramsPerLitre>())];
    let mass = number(0.0, 1e9, "kg");
    vec![
        Definition::new("silver_recovered", &["percent_recovered"], |g| {
            let (influent, effluent) = (g.get("influent_mg_per_l")?, g.get("effluent_mg_per_l")?);
            let working = waste::percent_recovered_working(influent, effluent)
                .ok_or_else(|| Refusal::of("influent_mg_per_l", "must be more than 0 mg/L"))?;
            let percent = waste::percent_recovered(influent, effluent);
            Ok(Values::new().with("percent_recovered", percent).with_working(working))
        })
        .takes("influent_mg_per_l", number(0.001, MilligramsPerLitre::MAX, "mg/L"))
        .takes("effluent_mg_per_l", of::<MilligramsPerLitre>()),
        Definition::new("waste_blend", &["volume_l", "silver_g", "silver_g_per_l"], |g| {
            let mut parts = Vec::new();
            for part in g.records("parts")? {
                parts.push((part.get("volume_l")?, part.get("silver_g_per_l")?));
            }
            let blend = waste::waste_blend(parts.iter().copied());
            if blend.volume_l == 0.0 {
                return Err(Refusal::of("parts", "must have a volume of more than 0 L together"));
            }
            Ok(Values::new()
                .with("volume_l", blend.volume_l)
                .with("silver_g", blend.silver_g)
                .with("silver_g_per_l", blend.g_per_l())
                .with_working(waste::waste_blend_working(&parts)))
        })
        .takes("parts", Kind::Records { fields: part, least: 1 }),
        Definition::new("toxicity_limit", &["at_or_above"], |g| {
            let basis = match g.choice("basis")? {
                "laboratory" => waste::Basis::Laboratory,
                _ => waste::Basis::Estimate,
            };
            let (silver, limit) = (g.get("silver_mg_per_l")?, g.get("limit_mg_per_l")?);
            let shown = match waste::against_toxicity_limit(silver, limit, basis) {
                waste::AgainstLimit::AtOrAbove => Value::Bool(true),
                waste::AgainstLimit::Below => Value::Bool(false),
                waste::AgainstLimit::NotShown => Value::from("not shown"),
            };
            Ok(Values::new()
                .with("at_or_above", shown)
                .with_working(waste::toxicity_limit_working(silver, limit, basis)))
        })
        .takes("silver_mg_per_l", of::<MilligramsPerLitre>())
        .takes("limit_mg_per_l", number(0.001, MilligramsPerLitre::MAX, "mg/L"))
        .takes("basis", Kind::Choice(&["laboratory", "estimate"])),
        Definition::new("yearly_turnover", &["turnover_percent", "below_75_percent"], |g| {
            let (start, recycled) = (g.get("start_of_year_l")?, g.get("recycled_l")?);
            let percent = waste::turnover_percent(start, recycled);
            Ok(Values::new()
                .with("turnover_percent", percent)
                .with("below_75_percent", percent < waste::LEAST_TURNOVER_PERCENT)
                .with_working(waste::turnover_working(start, recycled)))
        })
        .takes("start_of_year_l", BATH)
        .takes("recycled_l", of::<Litres>()),
        Definition::new("generator_category", &["category"], |g| {
            let (nonacute, acute) = (g.number("nonacute_kg_month")?, g.number("acute_kg_month")?);
            Ok(Values::new()
                .with("category", waste::generator_category(nonacute, acute).label())
                .with_working(waste::generator_category_working(nonacute, acute)))
        })
        .takes("nonacute_kg_month", mass.clone())
        .takes("acute_kg_month", mass),
    ]
}
