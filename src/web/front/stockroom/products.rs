//! Chemical products: added, edited, put away, taken out again.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    calc::working::seconds_text,
    domain::{
        field_errors::FieldErrors,
        ids::{ProductId, SiteId},
        measure::{decimal, units::Units},
        stock::product::{Product, ProductKind, Times},
    },
    store::{Stale, WriteError, people::change_log, site::sites, stock::products},
    web::{
        kit::{
            access::Access,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::posted::{Posted, Reader},
    },
};

use super::ProductLine;

/// Thousandths of an hour in milliseconds.
const MILLIHOUR_MS: i64 = 3_600;
/// Thousandths of a day in milliseconds.
const MILLIDAY_MS: i64 = 86_400;

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/stockroom/products/new", Access::Staff, new),
        change("/front/stockroom/products", Access::Staff, create),
        page("/front/stockroom/products/{id}", Access::Staff, edit),
        change("/front/stockroom/products/{id}", Access::Staff, update),
        change("/front/stockroom/products/{id}/put-away", Access::Staff, put_away),
        change("/front/stockroom/products/{id}/take-out", Access::Staff, take_out),
    ]
}

pub(super) fn line(product: &Product, units: Units) -> ProductLine {
    let or_not = |text: Option<String>| text.unwrap_or_else(|| "not entered".to_owned());
    let water = if product.distilled_water { ", distilled water" } else { "" };
    ProductLine {
        id: product.id,
        kind: product.kind.as_str(),
        name: product.name.clone(),
        parts: format!("{}{water}", product.parts()),
        capacity: or_not(product.capacity_mm2_per_l.map(|mm2| format!("{} m²/L", decimal::written(mm2, 6)))),
        rc_capacity: product
            .rc_capacity_mm2_per_l
            .map_or(String::new(), |mm2| format!("{} m²/L for resin-coated", decimal::written(mm2, 6))),
        tray_life: or_not(product.tray_life_ms.map(in_words)),
        bottle_life: or_not(product.bottle_life_ms.map(in_words)),
        times: times_in_words(&product.times, units),
        on_shelf: product.on_shelf_ul.map_or_else(|| "not counted".to_owned(), |ul| units.volume(ul)),
        data_sheet: or_not(Some(product.data_sheet.clone()).filter(|text| !text.is_empty())),
        hazards: or_not(Some(product.hazards.clone()).filter(|text| !text.is_empty())),
        silver_limit: match (product.kind, product.silver_limit_ug_per_l) {
            (ProductKind::Fixer, limit) => or_not(limit.map(|ug| format!("{} g/L", decimal::written(ug, 6)))),
            _ => "fixer only".to_owned(),
        },
        figures_from: product.figures_from.clone(),
        binds: Vec::new(),
    }
}

/// A time in a tray for people: `8 h`, `7 days`.
pub(in crate::web::front) fn in_words(ms: i64) -> String {
    const DAY_MS: i64 = 24 * 3_600_000;
    match ms {
        ms if ms > DAY_MS && ms % DAY_MS == 0 => format!("{} days", ms / DAY_MS),
        ms => format!("{} h", hours(ms)),
    }
}

/// The label's times for people: `resin-coated 1 min, fibre 2 min, at 20 °C`.
pub(in crate::web::front) fn times_in_words(times: &Times, units: Units) -> String {
    let named = [("resin-coated", times.rc_ms), ("fibre", times.fibre_ms), ("film", times.film_ms)];
    let mut parts: Vec<String> = named
        .into_iter()
        .filter_map(|(base, ms)| Some(format!("{base} {}", seconds_text(ms? as f64 / 1000.0))))
        .collect();
    if parts.is_empty() {
        return "not entered".to_owned();
    }
    parts.extend(times.at_milli_c.map(|at| format!("at {}", units.temperature(at))));
    parts.join(", ")
}

fn hours(ms: i64) -> String {
    decimal::written(ms / MILLIHOUR_MS, 3)
}

#[derive(Template)]
#[template(path = "front/product_edit.html")]
struct ProductEditPage {
    frame: Frame,
    form: Form,
    id: Option<ProductId>,
    kinds: Vec<(String, String)>,
}

fn edit_page(frame: Frame, form: Form, id: Option<ProductId>) -> Page<ProductEditPage> {
    let kinds = ProductKind::ALL.into_iter().map(|kind| (kind.as_str().to_owned(), kind.as_str().to_owned())).collect();
    Page::new(ProductEditPage { frame, form, id, kinds })
}

async fn new(frame: Frame) -> impl IntoResponse {
    let form = Form::filled(&frame, 0, [("kind", "developer".to_owned())]);
    edit_page(frame, form, None)
}

async fn edit(State(state): State<AppState>, frame: Frame, Path(id): Path<ProductId>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let product = products::find(&mut conn, id).await?.ok_or(WebError::NotFound("this product"))?;
    let optional = |value: Option<i64>, places| value.map_or(String::new(), |value| decimal::written(value, places));
    let form = Form::filled(
        &frame,
        product.version,
        [
            ("kind", product.kind.as_str().to_owned()),
            ("name", product.name.clone()),
            ("parts", product.parts()),
            ("distilled_water", if product.distilled_water { "yes" } else { "" }.to_owned()),
            ("capacity", optional(product.capacity_mm2_per_l, 6)),
            ("rc_capacity", optional(product.rc_capacity_mm2_per_l, 6)),
            ("tray_life", product.tray_life_ms.map_or(String::new(), hours)),
            ("bottle_life", product.bottle_life_ms.map_or(String::new(), |ms| decimal::written(ms / MILLIDAY_MS, 3))),
            ("time_rc", optional(product.times.rc_ms, 3)),
            ("time_fibre", optional(product.times.fibre_ms, 3)),
            ("time_film", optional(product.times.film_ms, 3)),
            ("at", product.times.at_milli_c.map_or(String::new(), |milli_c| frame.units.degrees(milli_c))),
            ("factor", decimal::written(product.times.factor_per_10c_milli, 3)),
            ("on_shelf", product.on_shelf_ul.map_or(String::new(), |ul| frame.units.volume_typed(ul))),
            ("silver_limit", optional(product.silver_limit_ug_per_l, 6)),
            ("hazards", product.hazards.clone()),
            ("data_sheet", product.data_sheet.clone()),
            ("figures_from", product.figures_from.clone()),
        ],
    );
    Ok(edit_page(frame, form, Some(id)).into_response())
}

/// `1+9` as whole parts of concentrate and water.
fn read_parts(text: &str) -> Option<(i64, i64)> {
    let (concentrate, water) = text.split_once('+')?;
    let whole = |part: &str| {
        let part = part.trim();
        part.bytes().all(|b| b.is_ascii_digit()).then(|| part.parse::<i64>().ok())?
    };
    let (concentrate, water) = (whole(concentrate)?, whole(water)?);
    ((1..=1000).contains(&concentrate) && (0..=1000).contains(&water)).then_some((concentrate, water))
}

fn read_times(r: &mut Reader<'_>, old: Option<&Product>) -> Option<Times> {
    let mut time = |field| r.optional_decimal(field, 3, 1_000..=3_600_000);
    let (rc_ms, fibre_ms, film_ms) = (time("time_rc"), time("time_fibre"), time("time_film"));
    let at = r.optional_temperature("at", old.and_then(|old| old.times.at_milli_c));
    if matches!(film_ms, Some(Some(_))) && at == Some(None) {
        r.wrong("at", "must be given with a time for film: the time holds at that temperature");
    }
    let factor = r.optional_decimal("factor", 3, 1_000..=6_000);
    Some(Times {
        rc_ms: rc_ms?,
        fibre_ms: fibre_ms?,
        film_ms: film_ms?,
        at_milli_c: at?,
        factor_per_10c_milli: factor?.unwrap_or(Times::NONE.factor_per_10c_milli),
    })
}

/// `old` is the card as it stands: what is unchanged in a rounded field stays what it was.
fn read(posted: &Posted, id: ProductId, site: SiteId, old: Option<&Product>) -> Result<Product, FieldErrors> {
    let mut r = posted.reader();
    let kind = r.choice("kind", ProductKind::from_word);
    let name = r.text("name", 1..=120);
    let parts = read_parts(r.raw("parts"));
    if parts.is_none() {
        r.wrong(
            "parts",
            "type whole parts as on the bottle: concentrate + water, for example 1+9; 1+0 is used as it comes",
        );
    }
    let capacity = r.optional_decimal("capacity", 6, 1_000..=1_000_000_000);
    let rc_capacity = r.optional_decimal("rc_capacity", 6, 1_000..=1_000_000_000);
    let tray_life = r.optional_decimal("tray_life", 3, 1..=100_000_000);
    let bottle_life = r.optional_decimal("bottle_life", 3, 1..=10_000_000);
    let times = read_times(&mut r, old);
    let on_shelf = r.optional_volume("on_shelf", old.and_then(|old| old.on_shelf_ul), 0);
    let silver_limit = r.optional_decimal("silver_limit", 6, 1..=100_000_000);
    if matches!(silver_limit, Some(Some(_))) && matches!(kind, Some(kind) if kind != ProductKind::Fixer) {
        r.wrong("silver_limit", "only a fixer gathers silver: leave this empty");
    }
    let hazards = r.lines("hazards", 0..=600);
    let data_sheet = r.text("data_sheet", 0..=200);
    let figures_from = r.lines("figures_from", 0..=600);
    let product = (|| {
        let (parts_concentrate, parts_water) = parts?;
        Some(Product {
            id,
            site,
            kind: kind?,
            name: name?,
            parts_concentrate,
            parts_water,
            distilled_water: posted.ticked("distilled_water"),
            capacity_mm2_per_l: capacity?,
            rc_capacity_mm2_per_l: rc_capacity?,
            tray_life_ms: tray_life?.map(|millihours| millihours * MILLIHOUR_MS),
            bottle_life_ms: bottle_life?.map(|millidays| millidays * MILLIDAY_MS),
            times: times?,
            on_shelf_ul: on_shelf?,
            silver_limit_ug_per_l: silver_limit?,
            hazards: hazards?,
            data_sheet: data_sheet?,
            figures_from: figures_from?,
            version: posted.version(),
        })
    })();
    r.finish(product)
}

async fn create(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let site = sites::find(&mut *state.store.read().await?).await?.ok_or(WebError::NotFound("the site"))?.id;
    let product = match read(&posted, state.mint(), site, None) {
        Ok(product) => product,
        Err(errors) => {
            return Ok(edit_page(frame, Form::refused(&posted, errors), None).unprocessable().into_response());
        }
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                products::insert(tx, &product).await?;
                change_log::insert(tx, at, actor, "product stocked", "product", product.id, &product.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

async fn update(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ProductId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let old = products::find(&mut *state.store.read().await?, id).await?.ok_or(WebError::NotFound("this product"))?;
    let product = match read(&posted, id, old.site, Some(&old)) {
        Ok(product) => product,
        Err(errors) => {
            return Ok(edit_page(frame, Form::refused(&posted, errors), Some(id)).unprocessable().into_response());
        }
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = products::find(tx, id).await?.ok_or(WriteError::Missing("this product"))?;
                if !products::update(tx, &product).await? {
                    let path = format!("/front/stockroom/products/{id}");
                    let stale = Stale::between("this product", path, described(&product), described(&stored));
                    return Err(WriteError::Stale(stale));
                }
                change_log::insert(tx, at, actor, "product edited", "product", id, &product.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

fn described(product: &Product) -> Vec<(&'static str, String)> {
    let line = line(product, Units::Metric);
    vec![
        ("Kind", line.kind.to_owned()),
        ("Name", line.name),
        ("Dilution", line.parts),
        ("Capacity", line.capacity),
        ("Capacity for resin-coated paper", line.rc_capacity),
        ("Time in an open tray", line.tray_life),
        ("Time in a closed bottle", line.bottle_life),
        ("Times", line.times),
        ("Factor for 10 °C", decimal::written(product.times.factor_per_10c_milli, 3)),
        ("Concentrate on the shelf", line.on_shelf),
        ("Silver limit", line.silver_limit),
        ("Hazards", product.hazards.clone()),
        ("Safety data sheet", product.data_sheet.clone()),
        ("Where the figures come from", line.figures_from),
    ]
}

async fn put_away(
    State(state): State<AppState>,
    Path(id): Path<ProductId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let product = products::find(tx, id).await?.ok_or(WriteError::Missing("this product"))?;
                products::put_away(tx, id, at).await?;
                change_log::insert(tx, at, actor, "product put away", "product", id, &product.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

async fn take_out(
    State(state): State<AppState>,
    Path(id): Path<ProductId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let product = products::find(tx, id).await?.ok_or(WriteError::Missing("this product"))?;
                products::take_out(tx, id).await?;
                change_log::insert(tx, at, actor, "product taken out again", "product", id, &product.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

#[cfg(test)]
mod tests {
    use super::read_parts;

    #[test]
    fn parts_are_read_as_a_bottle_writes_them() {
        assert_eq!(read_parts("1+9"), Some((1, 9)));
        assert_eq!(read_parts(" 1 + 19 "), Some((1, 19)));
        assert_eq!(read_parts("1+0"), Some((1, 0)));
        for bad in ["", "1:9", "1+", "+9", "0+9", "1.5+9", "1+1001", "one+nine", "1+9+1", "-1+9"] {
            assert_eq!(read_parts(bad), None, "{bad}");
        }
    }
}
