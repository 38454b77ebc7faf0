//! What is asked: the figures in the address, or the usual ones, and the form that shows them.

use crate::{
    calc::working::plain,
    domain::{
        evening::{
            preparation::{PRINTS_EACH, SHEETS_EACH},
            timetable::{Cycle, Evening},
        },
        field_errors::FieldErrors,
        ids::TrayId,
        measure::decimal,
        stock::{sheet::Sheet, tray::Tray},
    },
    web::kit::{form::Form, frame::Frame},
};

/// Carry-over as typed, in millilitres per square metre, or the usual one; in microlitres.
///
/// # Errors
/// What must be typed instead.
pub(in crate::web::front) fn carry_over(typed: &str, usual: i64) -> Result<i64, &'static str> {
    if typed.is_empty() {
        return Ok(usual);
    }
    // the range of the quantity
    decimal::read(typed, 3)
        .ok()
        .filter(|ul| (0..=2_000_000).contains(ul))
        .ok_or("must be millilitres per square metre, from 0 to 2000")
}

/// `yes` or `no`, or the usual one.
///
/// # Errors
/// What must be chosen instead.
pub(in crate::web::front) fn yes_or_no(typed: &str, usual: bool) -> Result<bool, &'static str> {
    match typed {
        "" => Ok(usual),
        "yes" => Ok(true),
        "no" => Ok(false),
        _ => Err("must be yes or no"),
    }
}

/// The figures of the form in the address, or the usual ones.
pub(super) struct Asked {
    pub students: u32,
    pub sheets_each: u32,
    pub prints_each: u32,
    pub sheet: Sheet,
    pub tray: Option<TrayId>,
    /// Liquid a drained sheet carries to the next tray, microlitres per square metre.
    pub carry_over_ul_per_m2: i64,
    /// Whether a second fixer stands after the first.
    pub second_fixer: bool,
    pub start: i64,
    pub evening: Evening,
}

/// What the fields begin with.
pub(super) struct Usual {
    pub students: usize,
    pub places: Option<i64>,
    pub size: String,
    /// Of the paper's card.
    pub carry_over_ul_per_m2: i64,
    /// Whether one stands in the session's tray line.
    pub second_fixer: bool,
}

/// Reads the query, gathering every message.
struct Query<'a> {
    values: &'a [(String, String)],
    errors: FieldErrors,
}

impl Query<'_> {
    fn get(&self, name: &str) -> &str {
        self.values.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value.trim())
    }

    fn whole(&mut self, name: &str, usual: u32, range: std::ops::RangeInclusive<u32>) -> u32 {
        match self.get(name) {
            "" => usual,
            text => text.parse().ok().filter(|number| range.contains(number)).unwrap_or_else(|| {
                let (low, high) = (range.start(), range.end());
                self.errors.add(name, format!("must be a whole number from {low} to {high}"));
                usual
            }),
        }
    }

    fn minutes(&mut self, name: &str, usual: f64) -> f64 {
        match self.get(name) {
            "" => usual,
            text => match decimal::read(text, 2) {
                Ok(hundredths @ 0..=60_000) => hundredths as f64 / 100.0,
                _ => {
                    self.errors.add(name, "must be minutes, from 0 to 600");
                    usual
                }
            },
        }
    }

    /// Microlitres per square metre, typed in millilitres.
    fn carry_over(&mut self, usual: i64) -> i64 {
        carry_over(self.get("carry_over"), usual).unwrap_or_else(|message| {
            self.errors.add("carry_over", message);
            usual
        })
    }

    fn second_fixer(&mut self, usual: bool) -> bool {
        yes_or_no(self.get("second_fixer"), usual).unwrap_or_else(|message| {
            self.errors.add("second_fixer", message);
            usual
        })
    }

    /// Minutes after midnight.
    fn clock(&mut self, name: &str, usual: i64) -> i64 {
        let text = self.get(name);
        if text.is_empty() {
            return usual;
        }
        let read = text.parse::<jiff::civil::Time>().map(|time| i64::from(time.hour()) * 60 + i64::from(time.minute()));
        read.unwrap_or_else(|_| {
            self.errors.add(name, "must be a time, for example 13:30");
            usual
        })
    }
}

pub(super) fn read(values: &[(String, String)], usual: &Usual) -> (Option<Asked>, FieldErrors) {
    let mut q = Query { values, errors: FieldErrors::none() };
    let students = q.whole("students", u32::try_from(usual.students).unwrap_or(0), 0..=500);
    let (sheets_each, prints_each) =
        (q.whole("sheets_each", SHEETS_EACH, 0..=100), q.whole("prints_each", PRINTS_EACH, 0..=100));
    let sheet = Sheet::parse(if q.get("sheet").is_empty() { &usual.size } else { q.get("sheet") });
    if let Err(error) = &sheet {
        q.errors.add("sheet", error.to_string());
    }
    let tray = q.get("tray").parse().ok();
    let carry_over_ul_per_m2 = q.carry_over(usual.carry_over_ul_per_m2);
    let second_fixer = q.second_fixer(usual.second_fixer);
    let cameras = q.whole("cameras", students.div_ceil(2), 0..=500);
    let places = q.whole("places", u32::try_from(usual.places.unwrap_or(4)).unwrap_or(4), 1..=100);
    let start = q.clock("start", 13 * 60);
    let cycle = Cycle {
        load: q.minutes("load", Cycle::USUAL.load),
        walk: q.minutes("walk", Cycle::USUAL.walk),
        expose: q.minutes("expose", Cycle::USUAL.expose),
        develop: q.minutes("develop", Cycle::USUAL.develop),
        stop: q.minutes("stop", Cycle::USUAL.stop),
        fix: q.minutes("fix", Cycle::USUAL.fix),
        wash: q.minutes("wash", Cycle::USUAL.wash),
    };
    let evening = Evening {
        minutes: q.minutes("minutes", 180.0),
        briefing: q.minutes("briefing", 15.0),
        building: q.minutes("building", 45.0),
        testing: q.minutes("testing", 10.0),
        clearing: q.minutes("clearing", 15.0),
        cameras,
        places,
        cycle,
        print_exposure: q.minutes("print_exposure", 1.0),
        rounds_wanted: if cameras == 0 { 0 } else { (students * sheets_each).div_ceil(cameras) },
        prints: students * prints_each,
    };
    if cycle.whole() <= 0.0 {
        q.errors.add("load", "a cycle of no minutes is no cycle");
    }
    let asked = sheet.ok().map(|sheet| Asked {
        students,
        sheets_each,
        prints_each,
        sheet,
        tray,
        carry_over_ul_per_m2,
        second_fixer,
        start,
        evening,
    });
    (asked, q.errors)
}

pub(super) fn filled(frame: &Frame, asked: &Asked, tray: Option<&Tray>) -> Form {
    let Evening { cycle, .. } = asked.evening;
    Form::filled(
        frame,
        0,
        [
            ("students", asked.students.to_string()),
            ("sheets_each", asked.sheets_each.to_string()),
            ("prints_each", asked.prints_each.to_string()),
            ("sheet", asked.sheet.typed.clone()),
            ("tray", tray.map_or(String::new(), |tray| tray.id.to_string())),
            ("carry_over", decimal::written(asked.carry_over_ul_per_m2, 3)),
            ("second_fixer", if asked.second_fixer { "yes" } else { "no" }.to_owned()),
            ("cameras", asked.evening.cameras.to_string()),
            ("places", asked.evening.places.to_string()),
            ("start", format!("{:02}:{:02}", asked.start / 60, asked.start % 60)),
            ("minutes", plain(asked.evening.minutes)),
            ("briefing", plain(asked.evening.briefing)),
            ("building", plain(asked.evening.building)),
            ("testing", plain(asked.evening.testing)),
            ("clearing", plain(asked.evening.clearing)),
            ("print_exposure", plain(asked.evening.print_exposure)),
            ("load", plain(cycle.load)),
            ("walk", plain(cycle.walk)),
            ("expose", plain(cycle.expose)),
            ("develop", plain(cycle.develop)),
            ("stop", plain(cycle.stop)),
            ("fix", plain(cycle.fix)),
            ("wash", plain(cycle.wash)),
        ],
    )
}

pub(super) fn typed(frame: &Frame, values: &[(String, String)]) -> Form {
    Form::filled(frame, 0, values.iter().map(|(name, value)| (name.as_str(), value.clone())))
}
