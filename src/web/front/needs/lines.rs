//! What the page says: baths, trays, what to buy, what is carried over, how the rounds are counted.

use crate::{
    calc::working::{figures, plain},
    domain::{
        baths::{
            batch::Slot,
            bath_needs::{BathNeed, Ready, bath_need, second_fixer_need},
        },
        evening::{
            preparation::carried,
            timetable::{Evening, Timetable},
        },
        measure::units::Units,
        stock::{
            paper::Paper,
            product::{Product, ProductKind},
            tray::Tray,
        },
    },
};

use super::asked::Asked;

/// What a product's bath needs, with what stands ready of it.
pub(super) struct Need {
    pub product: Product,
    pub need: BathNeed,
    pub ready: Ready,
    /// Whether it is the second fixer's tray.
    pub second: bool,
}

/// What the page says of one bath.
pub(super) struct BathLine {
    pub kind: &'static str,
    pub name: String,
    pub parts: String,
    pub takes: String,
    pub least: String,
    pub ready: String,
    pub fillings: String,
    pub changes: String,
    pub filling: String,
}

/// What has to be bought of one thing.
pub(super) struct BuyLine {
    pub what: String,
    pub needed: String,
    pub there: String,
    pub buy: String,
}

pub(super) fn bath_line(one: &Need, units: Units) -> BathLine {
    let Need { product, need, ready, second } = one;
    let ml = |ml: f64| units.volume((ml * 1000.0).round() as i64);
    let water = if product.distilled_water { "distilled water" } else { "water" };
    let [whole, concentrate, water_ml] = need.filling_ml;
    BathLine {
        kind: if *second { Slot::SecondFixer.as_str() } else { product.kind.as_str() },
        name: product.name.clone(),
        parts: product.parts(),
        takes: need
            .takes_m2_per_l
            .map_or_else(|| need.by.to_owned(), |m2| format!("{} m²/L by its {}", figures(m2, 3), need.by)),
        least: need.least_l.map_or_else(
            || if *second { "a tray" } else { "not known" }.to_owned(),
            |litres| format!("{} L", figures(litres, 2)),
        ),
        ready: match ready.batches {
            0 => "nothing".to_owned(),
            _ if *second => ml(ready.volume_ml),
            _ => format!("{}, good for {} m²", ml(ready.volume_ml), figures(ready.area_m2, 2)),
        },
        fillings: match need.fillings {
            0 => "none".to_owned(),
            1 => "1 filling".to_owned(),
            more => format!("{more} fillings"),
        },
        changes: match need.changes {
            0 => "no change".to_owned(),
            1 => "1 change".to_owned(),
            more => format!("{more} changes"),
        },
        filling: format!("{}: first {} of {water}, then {} of concentrate", ml(whole), ml(water_ml), ml(concentrate)),
    }
}

/// How often trays of a size would be filled for each bath.
pub(super) fn filled_trays(
    tray: &Tray,
    area_m2: f64,
    needs: &[Need],
    (paper, units): (&Paper, Units),
) -> (String, String, Vec<String>) {
    let tray_ml = tray.holds_ul as f64 / 1000.0;
    let each = needs.iter().map(|Need { product, ready, second, .. }| {
        let need = if *second {
            second_fixer_need(tray_ml, product, *ready, 0)
        } else {
            bath_need(area_m2, tray_ml, product, paper, *ready)
        };
        need.map_or_else(
            || "not known".to_owned(),
            |need| format!("{} × {}", need.fillings, units.volume(tray.holds_ul)),
        )
    });
    (tray.name.clone(), format!("{}, {} there", units.volume(tray.holds_ul), tray.count), each.collect())
}

pub(super) fn buy(
    needs: &[Need],
    asked: &Asked,
    (sheets, counted): (i64, Option<Option<i64>>),
    units: Units,
) -> Vec<BuyLine> {
    let ml = |ml: f64| units.volume((ml * 1000.0).round() as i64);
    let on_shelf = counted.flatten();
    let mut lines = vec![BuyLine {
        what: format!("Paper, {}", asked.sheet.in_words()),
        needed: format!("{sheets} sheets"),
        there: on_shelf.map_or_else(|| "not counted".to_owned(), |there| format!("{there} sheets")),
        buy: match on_shelf {
            None => "count the box first".to_owned(),
            Some(there) if there >= sheets => "nothing".to_owned(),
            Some(there) => format!("{} sheets", sheets - there),
        },
    }];
    for Need { product, .. } in needs.iter().filter(|need| !need.second) {
        // the second fixer comes from the same bottle as the first
        let concentrate_ml: f64 =
            needs.iter().filter(|one| one.product.id == product.id).map(|one| one.need.concentrate_ml).sum();
        lines.push(BuyLine {
            what: format!("{} ({}), concentrate", product.name, product.kind.as_str()),
            needed: ml(concentrate_ml),
            there: product.on_shelf_ul.map_or_else(|| "not counted".to_owned(), |ul| units.volume(ul)),
            buy: match product.on_shelf_ul.map(|ul| concentrate_ml - ul as f64 / 1000.0) {
                _ if concentrate_ml == 0.0 => "nothing".to_owned(),
                None => "look at the shelf first".to_owned(),
                Some(missing) if missing <= 0.0 => "nothing".to_owned(),
                Some(missing) => ml(missing),
            },
        });
    }
    let distilled_ml: f64 = needs
        .iter()
        .filter(|one| one.product.distilled_water)
        .map(|one| one.need.filling_ml[2] * f64::from(one.need.fillings))
        .sum();
    if distilled_ml > 0.0 {
        lines.push(BuyLine {
            what: "Distilled water".to_owned(),
            needed: ml(distilled_ml),
            there: "not counted".to_owned(),
            buy: "look at the shelf first".to_owned(),
        });
    }
    lines
}

pub(super) fn working(evening: &Evening, timetable: &Timetable) -> String {
    let Evening { cameras, places, cycle, .. } = evening;
    format!(
        "round = the longer of one cycle ({} min) and cameras × minutes in the dark / places ({cameras} × {} min / {places} \
         = {} min) = {} min",
        plain(cycle.whole()),
        plain(cycle.in_the_dark()),
        figures(f64::from(*cameras) * cycle.in_the_dark() / f64::from(*places), 3),
        figures(timetable.round_minutes, 3)
    )
}

/// What drained sheets carry on, in words; empty when no fixer is stocked.
pub(super) fn carried_words(area_m2: f64, paper: &Paper, needs: &[Need], asked: &Asked, units: Units) -> String {
    let fixer = needs.iter().find(|one| one.product.kind == ProductKind::Fixer && !one.second);
    let Some(fixer) = fixer else { return String::new() };
    let litres = fixer.need.filling_ml[0] * f64::from(fixer.need.fillings) / 1000.0 + fixer.ready.volume_ml / 1000.0;
    carried(area_m2, asked.carry_over_ul_per_m2, paper, litres).map_or_else(String::new, |carried| {
        let (volume, most) =
            (units.volume((carried.volume.as_ml() * 1000.0).round() as i64), figures(carried.silver_mg / 1000.0, 2));
        let from = if asked.second_fixer { "From the first fixer" } else { "From the fixer" };
        let to = if asked.second_fixer { "into the second" } else { "into the first rinse" };
        format!(
            "Each tray passes about {volume} on to the next. {from} {to} that takes at most {most} g of silver, at the \
             concentration of the session’s end."
        )
    })
}
