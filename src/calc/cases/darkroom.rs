//! Definitions: mixing, developing, sheets and the capacity of baths.

use super::definition::{Definition, Kind, Refusal, Values, number, of};
use super::given::{Given, Item};
use crate::calc::darkroom::capacity::{bath_needed, bath_needed_working, capacity_used, capacity_used_working};
use crate::calc::darkroom::development::{FACTOR_PER_10C, Material, development_time, development_time_working};
use crate::calc::darkroom::dilution::{
    Dilution, dilution, dilution_of_concentrate, dilution_working, stock_dilution, stock_dilution_working,
};
use crate::calc::darkroom::sheet::{sheet_area, sheet_area_working};
use crate::calc::quantity::{Capacity, Celsius, ExposureTime, Percent, SquareMetres, TemperatureFactor};

/// A volume of a bath: more than nothing.
pub const BATH: Kind = number(0.001, 100_000.0, "L");
const POURED: Kind = number(0.1, 1_000_000.0, "mL");

/// The area of the sheets of a case.
pub fn area(g: &Given) -> Result<SquareMetres, Refusal> {
    Ok(sheet_area(g.sheets("sheets")?))
}

pub fn definitions() -> Vec<Definition> {
    vec![
        Definition::new("dilution", &["concentrate_ml", "water_ml", "total_ml"], |g| {
            let parts = g.parts("parts")?;
            let mixed = if g.has("total_ml") {
                dilution(parts, g.get("total_ml")?)
            } else {
                dilution_of_concentrate(parts, g.get("concentrate_ml")?)
            };
            let Dilution { concentrate, water, total } = mixed;
            Ok(Values::new()
                .with("concentrate_ml", concentrate.as_ml())
                .with("water_ml", water.as_ml())
                .with("total_ml", total.as_ml())
                .with_working(dilution_working(parts, total)))
        })
        .takes("parts", Kind::Parts)
        .takes("total_ml", POURED)
        .takes("concentrate_ml", POURED)
        .either(&[&["total_ml"], &["concentrate_ml"]]),
        Definition::new("stock_dilution", &["stock_ml", "water_ml"], |g| {
            let (stock, target, total) = (g.get("stock_percent")?, g.get("target_percent")?, g.get("total_ml")?);
            let too_strong = |error| Refusal::of("target_percent", error);
            let mixed = stock_dilution(stock, target, total).map_err(too_strong)?;
            Ok(Values::new()
                .with("stock_ml", mixed.concentrate.as_ml())
                .with("water_ml", mixed.water.as_ml())
                .with_working(stock_dilution_working(stock, target, total).map_err(too_strong)?))
        })
        .takes("stock_percent", number(0.01, 100.0, "%"))
        .takes("target_percent", of::<Percent>())
        .takes("total_ml", POURED),
        Definition::new("development_time", &["time_s"], |g| {
            let material = if g.choice("material")? == "paper" { Material::Paper } else { Material::Film };
            let (time, factor) = (g.get::<ExposureTime>("time_s")?, g.get("factor_per_10c")?);
            let (at, now) = (g.get("at_c")?, g.get("now_c")?);
            Ok(Values::new()
                .with("time_s", development_time(material, time, at, now, factor).as_s())
                .with_working(development_time_working(material, time, at, now, factor)))
        })
        .takes("material", Kind::Choice(&["paper", "film"]))
        .takes("time_s", number(1.0, 100_000.0, "s"))
        .takes("at_c", of::<Celsius>())
        .takes("now_c", of::<Celsius>())
        .defaults("factor_per_10c", of::<TemperatureFactor>(), Item::Number(FACTOR_PER_10C)),
        Definition::new("sheet_area", &["area_m2"], |g| {
            Ok(Values::new().with("area_m2", area(g)?.as_m2()).with_working(sheet_area_working(&g.sheets("sheets")?)))
        })
        .takes("sheets", Kind::Sheets),
        Definition::new("capacity_used", &["area_m2", "used_share", "over_capacity"], |g| {
            let area = area(g)?;
            let (bath, capacity) = (g.get("bath_l")?, g.get("capacity_m2_per_l")?);
            let used = capacity_used(area, bath, capacity);
            Ok(Values::new()
                .with("area_m2", area.as_m2())
                .with("used_share", used.share)
                .with("over_capacity", used.over)
                .with_working(capacity_used_working(area, bath, capacity)))
        })
        .takes("sheets", Kind::Sheets)
        .takes("bath_l", BATH)
        .takes("capacity_m2_per_l", of::<Capacity>()),
        Definition::new("bath_needed", &["minimum_bath_l"], |g| {
            let (area, capacity) = (area(g)?, g.get("capacity_m2_per_l")?);
            Ok(Values::new()
                .with("minimum_bath_l", bath_needed(area, capacity).as_l())
                .with_working(bath_needed_working(area, capacity)))
        })
        .takes("sheets", Kind::Sheets)
        .takes("capacity_m2_per_l", of::<Capacity>()),
    ]
}
