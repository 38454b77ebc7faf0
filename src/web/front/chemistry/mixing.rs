//! `/front/chemistry/mix`: what to pour together, shown before; the batch with its number, after.

use askama::Template;
use axum::{
    extract::{RawQuery, State},
    response::{IntoResponse, Response},
};

use crate::{
    calc::{
        darkroom::dilution::{Parts, dilution, dilution_working},
        quantity::Millilitres,
        working::Working,
    },
    domain::{
        baths::batch::concentrate_in,
        book::Vessel,
        field_errors::FieldErrors,
        ids::ProductId,
        instant::Instant,
        measure::{units::Units, volume},
        stock::product::{Product, ProductKind},
    },
    store::{
        WriteError,
        book::movements::{self, NewBatch},
        site::sites,
        stock::products,
    },
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
        request::posted::Posted,
    },
};

use super::super::vessel_acts::{log, occasion, path_of, shown, volume_of, zone};

pub(super) fn routes() -> Vec<Route> {
    vec![page("/front/chemistry/mix", Access::Staff, begin), change("/front/chemistry/batches", Access::Staff, create)]
}

#[derive(Template)]
#[template(path = "front/mixing.html")]
struct MixingPage {
    frame: Frame,
    form: Form,
    product: ProductId,
    name: String,
    kind: &'static str,
    parts: String,
    hazards: String,
    data_sheet: String,
    water: &'static str,
    acid: bool,
    who: String,
    amounts: Option<Amounts>,
    /// What was counted of it on the shelf; empty where nobody counted.
    on_shelf: String,
    /// What there is to say when that is less than the amounts take; empty otherwise.
    short: String,
}

/// What to pour together.
pub(super) struct Amounts {
    pub concentrate: String,
    pub water: String,
    pub total: String,
    pub working: Working,
}

/// Concentrate and water for a volume.
pub(super) fn amounts(parts: (i64, i64), total_ul: i64, units: Units) -> Option<Amounts> {
    let parts = Parts::new(parts.0 as f64, parts.1 as f64).ok()?;
    let total = Millilitres::new(total_ul as f64 / 1000.0).ok()?;
    let mixed = dilution(parts, total);
    let words = |volume: Millilitres| units.volume((volume.as_ml() * 1000.0).round() as i64);
    Some(Amounts {
        concentrate: words(mixed.concentrate),
        water: words(mixed.water),
        total: words(mixed.total),
        working: dilution_working(parts, total),
    })
}

/// `1+4` as whole parts, as batches keep them.
fn whole_parts(text: &str) -> Option<(i64, i64)> {
    let (concentrate, water) = text.split_once('+')?;
    let whole =
        |part: &str| part.trim().parse::<i64>().ok().filter(|_| part.trim().bytes().all(|b| b.is_ascii_digit()));
    let (concentrate, water) = (whole(concentrate)?, whole(water)?);
    ((1..=1000).contains(&concentrate) && (0..=1000).contains(&water)).then_some((concentrate, water))
}

/// Water by its label.
pub(super) fn water_of(product: &Product) -> &'static str {
    if product.distilled_water { "distilled water" } else { "water" }
}

/// The form for a product, with amounts once a volume was typed: the same page before and after
/// “Work it out”, which only asks.
async fn begin(State(state): State<AppState>, frame: Frame, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let asked: Vec<(String, String)> =
        form_urlencoded::parse(query.unwrap_or_default().as_bytes()).into_owned().collect();
    let of = |name: &str| asked.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value.trim());
    let id: ProductId = of("product").parse().map_err(|_| WebError::NotFound("this product"))?;
    let product = products::find(&mut *state.store.read().await?, id).await?;
    let product = product.ok_or(WebError::NotFound("this product"))?;
    let zone = zone(&state).await?;
    let or = |name: &str, begins: String| if of(name).is_empty() { begins } else { of(name).to_owned() };
    let values = [
        ("parts", or("parts", product.parts())),
        ("volume", of("volume").to_owned()),
        ("happened_at", or("happened_at", state.now().as_local_control(&zone))),
        ("remark", of("remark").to_owned()),
        ("volume_in", of("volume_in").to_owned()),
    ];
    let mut errors = FieldErrors::none();
    let typed_parts = whole_parts(&values[0].1);
    if typed_parts.is_none() {
        errors.add("parts", PARTS_WRONG);
    }
    let typed_volume = match values[1].1.as_str() {
        "" => None,
        typed => {
            let units = Units::from_word(of("volume_in")).unwrap_or(frame.units);
            let read = units.read_volume(typed, LEAST_UL, volume::MOST_UL);
            read.map_err(|error| errors.add("volume", error.to_string())).ok()
        }
    };
    let refused = !errors.is_empty();
    let form = Form::filled(&frame, 0, values).with_errors(errors);
    let typed = typed_parts.zip(typed_volume);
    let short = typed.and_then(|(parts, volume)| short_of(&product, concentrate_in(parts, volume), frame.units));
    let amounts = typed.and_then(|(parts, volume)| amounts(parts, volume, frame.units));
    Ok(shown(mixing_page(frame, form, &product, (amounts, short)), refused))
}

/// The box that says that the shelf held more than was counted.
const RECOUNT: &str = "recount";

/// What to say when a mixing takes more concentrate than was counted on the shelf.
fn short_of(product: &Product, needed_ul: i64, units: Units) -> Option<String> {
    let counted = product.on_shelf_ul.filter(|counted| *counted < needed_ul)?;
    Some(format!(
        "this takes {} of concentrate; {} were counted on the shelf",
        units.volume(needed_ul),
        units.volume(counted)
    ))
}

const PARTS_WRONG: &str = "type whole parts as on the bottle: concentrate + water, for example 1+9";
/// Less than ten millilitres is no bath.
const LEAST_UL: i64 = 10_000;

/// The page, with what to pour together and what the shelf is short of.
fn mixing_page(
    frame: Frame,
    form: Form,
    product: &Product,
    (amounts, short): (Option<Amounts>, Option<String>),
) -> Page<MixingPage> {
    Page::new(MixingPage {
        who: frame.name().to_owned(),
        form,
        product: product.id,
        name: product.name.clone(),
        kind: product.kind.as_str(),
        parts: product.parts(),
        hazards: product.hazards.clone(),
        data_sheet: product.data_sheet.clone(),
        water: water_of(product),
        on_shelf: product.on_shelf_ul.map_or_else(String::new, |counted| frame.units.volume(counted)),
        short: short.unwrap_or_default(),
        acid: matches!(product.kind, ProductKind::StopBath | ProductKind::Fixer),
        amounts,
        frame,
    })
}

fn read(posted: &Posted, zone: &jiff::tz::TimeZone) -> Result<((i64, i64), i64, Instant, String), FieldErrors> {
    let mut r = posted.reader();
    let parts = whole_parts(r.raw("parts"));
    if parts.is_none() {
        r.wrong("parts", PARTS_WRONG);
    }
    let volume = volume_of(&mut r, "volume", LEAST_UL);
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    r.finish((|| Some((parts?, volume?, at?, remark?)))())
}

async fn create(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let id: ProductId = posted.get("product").parse().map_err(|_| WebError::NotFound("this product"))?;
    let mut conn = state.store.read().await?;
    let product = products::find(&mut conn, id).await?.ok_or(WebError::NotFound("this product"))?;
    let zone = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?.zone;
    drop(conn);
    let again = |errors| {
        let page = mixing_page(frame.clone(), Form::refused(&posted, errors), &product, (None, None));
        Ok(page.unprocessable().into_response())
    };
    let ((parts_concentrate, parts_water), volume_ul, at, remark) = match read(&posted, &zone) {
        Ok(read) => read,
        Err(errors) => return again(errors),
    };
    let (units, recounted) = (frame.units, posted.get(RECOUNT) == "yes");
    let occasion = occasion(&state, &posted, at, remark);
    let new = NewBatch { id: state.mint(), product: product.clone(), parts_concentrate, parts_water, volume_ul };
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let counted = products::find(tx, id).await?.ok_or(WriteError::Missing("this product"))?;
                let needed = concentrate_in((parts_concentrate, parts_water), volume_ul);
                if let Some(short) = short_of(&counted, needed, units).filter(|_| !recounted) {
                    let asked = format!("{short}. If it was there all the same, tick this and save again");
                    return Err(FieldErrors::one(RECOUNT, asked).into());
                }
                let batch = movements::mix(tx, &occasion, new).await?;
                let detail = format!("{}, {}", batch.name(), volume::in_words(batch.volume_ul));
                let vessel = Vessel::Batch(batch.id);
                log(tx, occasion.recorded_at, occasion.actor, "batch mixed", vessel, &detail).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => again(errors),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
