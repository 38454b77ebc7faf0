//! An exposure as its row.

use crate::domain::{
    exposure::{
        Exposure, Judgement, TakenBack,
        aim::Aim,
        diagnosis::Sign,
        found_light::LightSource,
        verdict::{Fault, ResultSource, Verdict},
    },
    ids::{CameraId, ExposureId, HoleId, LabSessionId, PaperId, PersonId, SectionId, StudentId},
    instant::Instant,
    measure::length::Length,
    stock::{reciprocity_lines::ReciprocityLines, sheet::Sheet},
};

use crate::store::Error;

pub(super) struct ExposureRow {
    pub(super) id: ExposureId,
    pub(super) number: i64,
    pub(super) section_id: SectionId,
    pub(super) lab_session_id: LabSessionId,
    pub(super) camera_id: CameraId,
    pub(super) hole_id: HoleId,
    pub(super) student_id: Option<StudentId>,
    pub(super) paper_id: PaperId,
    pub(super) sheet_width_nm: i64,
    pub(super) sheet_height_nm: i64,
    pub(super) sheet_typed: String,
    pub(super) light_source: String,
    pub(super) light_typed: String,
    pub(super) ev100_milli: i64,
    pub(super) light_sd_milli: i64,
    pub(super) exposure_index_milli: i64,
    pub(super) reciprocity_milli: i64,
    pub(super) reciprocity_threshold_ms: i64,
    pub(super) hole_to_film_nm: i64,
    pub(super) hole_diameter_nm: i64,
    pub(super) f_number_milli: i64,
    pub(super) base_ms: i64,
    pub(super) forecast_ms: i64,
    pub(super) forecast_low_ms: i64,
    pub(super) forecast_high_ms: i64,
    pub(super) based_on: i64,
    pub(super) made_ms: i64,
    pub(super) made_at: Instant,
    pub(super) verdict: Option<String>,
    pub(super) result_stops_milli: Option<i64>,
    pub(super) result_source: Option<String>,
    pub(super) fault: Option<String>,
    pub(super) judged_at: Option<Instant>,
    pub(super) remark: String,
    pub(super) recorded_by: PersonId,
    pub(super) recorded_at: Instant,
    pub(super) version: i64,
    pub(super) reciprocity_table: String,
    pub(super) aim: String,
    pub(super) aim_milli: i64,
    pub(super) gain_milli: i64,
    pub(super) experience_milli: Option<i64>,
    pub(super) demonstration: i64,
    pub(super) taken_back_at: Option<Instant>,
    pub(super) taken_back_by: Option<PersonId>,
    pub(super) taken_back_why: String,
    pub(super) forecast_shown: i64,
    pub(super) shown_for: String,
    pub(super) sign: String,
}

impl ExposureRow {
    fn wrong(&self, column: &'static str) -> Error {
        Error::Inconsistent { table: "exposure", column, id: self.id.to_string() }
    }

    fn judgement(&self) -> Result<Option<Judgement>, Error> {
        let (Some(verdict), Some(judged_at)) = (&self.verdict, self.judged_at) else {
            return Ok(None);
        };
        let result = match (self.result_stops_milli, &self.result_source) {
            (Some(milli), Some(source)) => {
                Some((milli, ResultSource::from_word(source).ok_or_else(|| self.wrong("result_source"))?))
            }
            _ => None,
        };
        let fault = match &self.fault {
            Some(word) => Some(Fault::from_word(word).ok_or_else(|| self.wrong("fault"))?),
            None => None,
        };
        let verdict = Verdict::from_word(verdict).ok_or_else(|| self.wrong("verdict"))?;
        let sign = match self.sign.as_str() {
            "" => None,
            key => Some(Sign::from_key(key).ok_or_else(|| self.wrong("sign"))?),
        };
        Ok(Some(Judgement { verdict, result, fault, sign, judged_at }))
    }
}

impl TryFrom<ExposureRow> for Exposure {
    type Error = Error;
    fn try_from(row: ExposureRow) -> Result<Self, Error> {
        let judgement = row.judgement()?;
        let light_source = LightSource::from_word(&row.light_source).ok_or_else(|| row.wrong("light_source"))?;
        let table = ReciprocityLines::from_stored(&row.reciprocity_table);
        let reciprocity_table = table.ok_or_else(|| row.wrong("reciprocity_table"))?;
        if Aim::from_stored(&row.aim, row.aim_milli).is_none() {
            return Err(row.wrong("aim"));
        }
        let taken_back = row.taken_back_at.zip(row.taken_back_by);
        Ok(Self {
            id: row.id,
            number: row.number,
            section: row.section_id,
            session: row.lab_session_id,
            camera: row.camera_id,
            hole: row.hole_id,
            student: row.student_id,
            paper: row.paper_id,
            sheet: Sheet {
                width: Length::from_nm(row.sheet_width_nm),
                height: Length::from_nm(row.sheet_height_nm),
                typed: row.sheet_typed,
            },
            light_source,
            light_typed: row.light_typed,
            ev100_milli: row.ev100_milli,
            light_sd_milli: row.light_sd_milli,
            exposure_index_milli: row.exposure_index_milli,
            reciprocity_milli: row.reciprocity_milli,
            reciprocity_threshold_ms: row.reciprocity_threshold_ms,
            hole_to_film_nm: row.hole_to_film_nm,
            hole_diameter_nm: row.hole_diameter_nm,
            f_number_milli: row.f_number_milli,
            base_ms: row.base_ms,
            forecast_ms: row.forecast_ms,
            forecast_low_ms: row.forecast_low_ms,
            forecast_high_ms: row.forecast_high_ms,
            based_on: row.based_on,
            made_ms: row.made_ms,
            made_at: row.made_at,
            judgement,
            remark: row.remark,
            recorded_by: row.recorded_by,
            recorded_at: row.recorded_at,
            reciprocity_table,
            aim: row.aim,
            aim_milli: row.aim_milli,
            gain_milli: row.gain_milli,
            experience_milli: row.experience_milli,
            demonstration: row.demonstration != 0,
            taken_back: taken_back.map(|(at, by)| TakenBack { at, by, why: row.taken_back_why }),
            forecast_shown: row.forecast_shown != 0,
            shown_for: row.shown_for,
            version: row.version,
        })
    }
}
