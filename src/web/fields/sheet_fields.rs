//! A sheet as a form tells of it.

use jiff::tz::TimeZone;

use crate::{
    calc::quantity::Seconds,
    domain::{
        exposure::{aim::Aim, sheet_time::not_too_old},
        field_errors::FieldErrors,
        instant::Instant,
        measure::typed_seconds::parse_seconds,
        stock::sheet::Sheet,
    },
    lab::exposure::told::{Against, SHOWS_NOTHING_YET, Told},
    web::request::posted::{Posted, Reader},
};

use super::{
    aim_fields::read_aim,
    light_fields::read_light,
    result_fields::{ResultNames, read_result},
};

/// Reads a sheet from a form. `judged_at` is when a judgement in it was made.
///
/// # Errors
/// A message beside every field that is missing or cannot be.
pub fn read(posted: &Posted, against: &Against, judged_at: Instant) -> Result<Told, FieldErrors> {
    let mut reader = posted.reader();
    let zone = &against.here.zone;
    let made_at = moment(&mut reader, "made_at", zone, posted.at());
    if let (Some(made_at), Some(session)) = (made_at, &against.session) {
        let camera = against.camera.as_ref().filter(|_| against.camera_counts);
        if let Err(error) = not_too_old(made_at, session, camera, zone) {
            reader.wrong("made_at", error.to_string());
        }
    }
    // the sun as it stood when the shutter was open
    let here = against.here.at(made_at.unwrap_or_else(|| posted.at()));
    let light = noting(&mut reader, read_light(|name| posted.get(name), &here));
    let aim = match &against.camera {
        Some(camera) => noting(&mut reader, read_aim(|name| posted.get(name), &camera.body)),
        None => Some(Aim::MIDDLE),
    };
    let made_ms = match parse_seconds(posted.get("made")) {
        Ok(time) => Some(Seconds::from(time).as_millis()),
        Err(error) => {
            reader.wrong("made", error.to_string());
            None
        }
    };
    let sheet = match Sheet::parse(posted.get("sheet")) {
        Ok(sheet) => Some(sheet),
        Err(error) => {
            reader.wrong("sheet", error.to_string());
            None
        }
    };
    let developed_at = read_developed(&mut reader, posted, zone, made_at, against.asks_trays);
    let judgement = read_result(&mut reader, posted, &ResultNames::plain(), judged_at);
    if let (true, Some(None), Some(Some(judged))) = (against.asks_trays, developed_at, judgement)
        && judged.needs_trays()
    {
        reader.wrong("verdict", SHOWS_NOTHING_YET);
    }
    let remark = reader.text("remark", 0..=500);
    reader.finish((|| {
        Some(Told {
            aim: aim?,
            light: light?,
            made_ms: made_ms?,
            made_at: made_at?,
            sheet: sheet?,
            developed_at: developed_at?,
            judgement: judgement?,
            remark: remark?,
        })
    })())
}

/// Takes over the messages of a part that was read on its own.
pub fn noting<T>(reader: &mut Reader<'_>, part: Result<T, FieldErrors>) -> Option<T> {
    part.map_err(|errors| {
        for (field, message) in errors.iter() {
            reader.wrong(field, message);
        }
    })
    .ok()
}

/// A date and time that is past.
pub fn moment(reader: &mut Reader<'_>, field: &str, zone: &TimeZone, now: Instant) -> Option<Instant> {
    let at = reader.local_time(field, zone)?;
    if at > now {
        reader.wrong(field, format!("lies ahead: it is {} now", now.as_words(zone)));
        return None;
    }
    Some(at)
}

/// `Some(None)` while the sheet has not gone through the trays. Where it `must_say`, no answer is refused: nothing
/// is booked that nobody said.
pub fn read_developed(
    reader: &mut Reader<'_>,
    posted: &Posted,
    zone: &TimeZone,
    made_at: Option<Instant>,
    must_say: bool,
) -> Option<Option<Instant>> {
    if must_say && posted.get("developed").trim().is_empty() {
        reader.wrong("developed", "say whether it went through: nothing is counted in the trays before you do");
        return None;
    }
    if matches!(posted.get("developed").trim(), "" | "no") {
        return Some(None);
    }
    let at = moment(reader, "developed_at", zone, posted.at())?;
    if made_at.is_some_and(|made_at| at < made_at) {
        reader.wrong("developed_at", "lies before the exposure");
        return None;
    }
    Some(Some(at))
}
