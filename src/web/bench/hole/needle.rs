//! Where on the needle's taper to put the mark: asked in the page's address, nothing is stored.

use std::collections::HashMap;

use crate::domain::marking::own_figure::Reveals;
use crate::{
    calc::{
        optics::micrometer::{needle_mark_mm, needle_mark_working},
        quantity::{Bounded, HoleDiameter, PointDiameter, ShaftDiameter, TaperLength},
    },
    domain::{
        field_errors::FieldErrors,
        measure::length::{Length, LengthUnit, computed_words},
    },
    drawing::needle::Needle,
    web::kit::{form::Form, frame::Frame, reading::Reading},
};

const FIELDS: [&str; 3] = ["shaft", "taper", "point"];

/// The little form and its answer.
pub struct NeedleMark {
    /// The form as it was asked.
    pub form: Form,
    /// The mark, when all was given.
    pub answer: Option<(Reading, Needle)>,
    /// Whether something typed could not be read.
    pub refused: bool,
}

/// Reads what was asked in the address and answers it.
pub fn answer(
    frame: &Frame,
    asked: &HashMap<String, String>,
    unit: LengthUnit,
    hole: Option<HoleDiameter>,
) -> NeedleMark {
    let value = |field: &str| asked.get(field).map_or("", |text| text.trim());
    let values = FIELDS.map(|field| (field, value(field).chars().take(40).collect::<String>()));
    let form = Form::filled(frame, 0, values).prefixed("needle");
    let Some(hole) = hole.filter(|_| FIELDS.iter().any(|field| !value(field).is_empty())) else {
        return NeedleMark { form, answer: None, refused: false };
    };
    let mut errors = FieldErrors::none();
    let shaft = read::<ShaftDiameter>(&mut errors, "shaft", value("shaft"), unit);
    let taper = read::<TaperLength>(&mut errors, "taper", value("taper"), unit);
    let point = match value("point") {
        "" => PointDiameter::new(0.0).ok(),
        typed => read(&mut errors, "point", typed, unit),
    };
    let marked = (|| {
        let (shaft, taper, point) = (shaft?, taper?, point?);
        let mark = needle_mark_mm(hole, shaft, taper, point).and_then(|mark| {
            let working = needle_mark_working(hole, shaft, taper, point)?;
            let words = format!("{} from the point", computed_words(mark, 2, unit));
            let drawing = Needle::of("needle-drawing", shaft, taper, point, mark, unit);
            Ok((Reading::of(working, Reveals::HOLE).showing(words), drawing))
        });
        mark.map_err(|_| {
            let point = if point.as_mm() >= shaft.as_mm() { "; its point cannot be as thick as its shaft" } else { "" };
            errors.add(
                "shaft",
                format!(
                    "this needle is nowhere {} thick: take a thicker one{point}",
                    computed_words(hole.as_mm(), 3, unit)
                ),
            );
        })
        .ok()
    })();
    let refused = !errors.is_empty();
    NeedleMark { form: form.with_errors(errors), answer: marked, refused }
}

fn read<Q: Bounded>(errors: &mut FieldErrors, field: &str, typed: &str, unit: LengthUnit) -> Option<Q> {
    Length::parse(typed, unit, Length::from_mm(Q::MIN), Length::from_mm(Q::MAX))
        .map_err(|error| errors.add(field, error.to_string()))
        .ok()
        .and_then(|length| Q::bounded(length.as_mm()).map_err(|error| errors.add(field, error.to_string())).ok())
}
