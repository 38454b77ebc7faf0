//! `exposures.csv`: one row an exposure.

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::ids::LabSessionId,
    store::{
        self,
        exposure::exposure_lines::{self, ExposureLine},
    },
};

use super::{Cell, Table, zone_of};

/// The columns, in their order.
const COLUMNS: [&str; 24] = [
    "exposure",
    "section",
    "session",
    "camera",
    "shape",
    "hole_to_film_mm",
    "hole_diameter_mm",
    "f_number",
    "light_source",
    "ev100",
    "exposure_index",
    "base_s",
    "forecast_s",
    "forecast_low_s",
    "forecast_high_s",
    "made_s",
    "result_stops",
    "result_source",
    "made_at",
    "paper",
    "forecast_shown",
    "spoiled",
    "left_out",
    "demonstration",
];

/// The file of a session, or of everything.
///
/// # Errors
/// When the database cannot be used.
pub async fn bytes(conn: &mut SqliteConnection, session: Option<LabSessionId>) -> Result<Vec<u8>, store::Error> {
    let zone = zone_of(conn).await?;
    Ok(file(&zone, &exposure_lines::list(conn, session).await?))
}

fn file(zone: &TimeZone, lines: &[ExposureLine]) -> Vec<u8> {
    let mut table = Table::new(zone, COLUMNS);
    let yes_or_no = |is: bool| Cell::text(if is { "yes" } else { "no" });
    for line in lines {
        let (mm, thousandths) = (|nm| Cell::scaled(nm, 6), |milli| Cell::scaled(milli, 3));
        table.row([
            Cell::Integer(line.number),
            Cell::text(&line.section),
            Cell::text(&line.session),
            Cell::Integer(line.camera),
            Cell::text(&line.shape),
            mm(line.distance_nm),
            mm(line.diameter_nm),
            thousandths(line.f_number_milli),
            Cell::text(&line.light_source),
            thousandths(line.ev100_milli),
            thousandths(line.exposure_index_milli),
            thousandths(line.base_ms),
            thousandths(line.forecast_ms),
            thousandths(line.forecast_low_ms),
            thousandths(line.forecast_high_ms),
            thousandths(line.made_ms),
            Cell::known(line.result_stops_milli, thousandths),
            Cell::from(line.result_source.clone()),
            Cell::Instant(line.made_at),
            Cell::text(&line.paper),
            yes_or_no(line.forecast_shown),
            Cell::from(line.spoiled.clone()),
            yes_or_no(line.left_out),
            yes_or_no(line.demonstration),
        ]);
    }
    table.finish()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::instant::Instant;

    #[test]
    fn an_eight_second_can_is_one_row_of_numbers() {
        let line = ExposureLine {
            number: 3,
            section: "Group 2".to_owned(),
            session: "=First, light".to_owned(),
            camera: 7,
            shape: "curved".to_owned(),
            distance_nm: 120_650_000,
            diameter_nm: 402_000,
            f_number_milli: 300_124,
            light_source: "sky".to_owned(),
            ev100_milli: 15_000,
            exposure_index_milli: 10_000,
            base_ms: 7_900,
            forecast_ms: 8_000,
            forecast_low_ms: 4_500,
            forecast_high_ms: 14_200,
            made_ms: 8_000,
            result_stops_milli: Some(-500),
            result_source: Some("eye".to_owned()),
            made_at: Instant::from_micros(1_774_029_600_000_000).expect("in range"),
            paper: "Matt RC".to_owned(),
            forecast_shown: true,
            spoiled: None,
            left_out: false,
            demonstration: false,
        };
        let unjudged = ExposureLine {
            number: 4,
            result_stops_milli: None,
            result_source: None,
            forecast_shown: false,
            ..line.clone()
        };
        // judged like any other, but it teaches nothing
        let spoiled = ExposureLine {
            number: 5,
            result_stops_milli: Some(-1_000),
            spoiled: Some("leak".to_owned()),
            left_out: true,
            demonstration: true,
            ..line.clone()
        };
        let bytes = file(&TimeZone::get("America/Denver").expect("bundled zones"), &[line, unjudged, spoiled]);
        assert_eq!(
            String::from_utf8(bytes).expect("UTF-8"),
            "exposure,section,session,camera,shape,hole_to_film_mm,hole_diameter_mm,f_number,light_source,ev100,\
             exposure_index,base_s,forecast_s,forecast_low_s,forecast_high_s,made_s,result_stops,result_source,made_at,\
             paper,forecast_shown,spoiled,left_out,demonstration\r\n\
             3,Group 2,\"'=First, light\",7,curved,120.65,0.402,300.124,sky,15,10,7.9,8,4.5,14.2,8,-0.5,eye,\
             2026-03-20T12:00:00-06:00,Matt RC,yes,,no,no\r\n\
             4,Group 2,\"'=First, light\",7,curved,120.65,0.402,300.124,sky,15,10,7.9,8,4.5,14.2,8,,,\
             2026-03-20T12:00:00-06:00,Matt RC,no,,no,no\r\n\
             5,Group 2,\"'=First, light\",7,curved,120.65,0.402,300.124,sky,15,10,7.9,8,4.5,14.2,8,-1,eye,\
             2026-03-20T12:00:00-06:00,Matt RC,yes,leak,yes,yes\r\n"
        );
    }
}
