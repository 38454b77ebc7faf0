//! A sheet that somebody says was exposed, before it is stored.

use super::{
    Exposure, Judgement, found_light::FoundLight, setting_nm, shown_forecast::ShownForecast,
    starting_exposure::StartingExposure,
};
use crate::domain::{
    camera::Camera,
    evening::lab_session::LabSession,
    ids::{ExposureId, HoleId, PersonId, StudentId},
    instant::Instant,
    measure::decimal::milli,
    stock::{paper::Paper, sheet::Sheet},
};

/// What a person tells of one sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct NewExposure {
    /// The id it will have.
    pub id: ExposureId,
    /// The hole as measured.
    pub hole: HoleId,
    /// Whose sheet it is.
    pub student: Option<StudentId>,
    /// Its size.
    pub sheet: Sheet,
    /// The light as found.
    pub light: FoundLight,
    /// The forecast that was shown; `None` where none was, as with a card from the dark.
    pub shown: Option<ShownForecast>,
    /// Made by staff to show how it is done.
    pub demonstration: bool,
    /// How long the shutter was open, milliseconds.
    pub made_ms: i64,
    /// When.
    pub made_at: Instant,
    /// How it came out, if that is known already.
    pub judgement: Option<Judgement>,
    /// Anything else.
    pub remark: String,
    /// Who typed it in.
    pub recorded_by: PersonId,
    /// When.
    pub recorded_at: Instant,
}

impl NewExposure {
    /// The record: what was told, the base for the light as found, and the forecast as it was shown; where
    /// none was, the one for the light as found.
    pub fn recorded(
        self,
        number: i64,
        camera: &Camera,
        session: &LabSession,
        paper: &Paper,
        start: &StartingExposure,
    ) -> Exposure {
        let light_typed = self.light.in_words();
        let forecast_shown = self.shown.is_some();
        let shown = self.shown.unwrap_or_else(|| ShownForecast::of(start, self.light));
        let (hole_to_film_nm, hole_diameter_nm) = setting_nm(camera.hole_to_film(), start.setting.f_number);
        Exposure {
            id: self.id,
            number,
            section: session.section,
            session: session.id,
            camera: camera.id,
            hole: self.hole,
            student: self.student,
            paper: paper.id,
            sheet: self.sheet,
            light_source: self.light.source(),
            shown_for: if shown.light == light_typed { String::new() } else { shown.light },
            light_typed,
            ev100_milli: milli(start.light.ev100.as_ev()),
            light_sd_milli: milli(start.light.sd_stops),
            exposure_index_milli: paper.exposure_index_milli,
            // the fitted exponent where the sheets have taught one
            reciprocity_milli: match start.reciprocity.table() {
                Some(_) => paper.reciprocity_milli,
                None => milli(start.reciprocity.exponent().as_number()),
            },
            reciprocity_threshold_ms: paper.reciprocity_threshold_ms,
            reciprocity_table: paper.reciprocity_table.clone(),
            aim: start.aim.words(),
            aim_milli: start.aim.stops_milli(),
            gain_milli: paper.lens_free_gain_milli(),
            experience_milli: Some(shown.experience_milli),
            demonstration: self.demonstration,
            taken_back: None,
            hole_to_film_nm,
            hole_diameter_nm,
            f_number_milli: milli(start.setting.f_number.as_number()).max(1),
            base_ms: start.forecast.base.as_millis(),
            forecast_ms: shown.forecast_ms,
            forecast_low_ms: shown.low_ms,
            forecast_high_ms: shown.high_ms,
            based_on: shown.based_on,
            forecast_shown,
            made_ms: self.made_ms,
            made_at: self.made_at,
            judgement: self.judgement,
            remark: self.remark,
            recorded_by: self.recorded_by,
            recorded_at: self.recorded_at,
            version: 1,
        }
    }
}
