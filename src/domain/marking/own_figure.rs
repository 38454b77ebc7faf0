//! Own figures: values that students work out before the server shows its own.
//!
//! A value that is asked for is *held back* from its student's pages and cards until they had it
//! right or tried twice; then it *opens* by itself. Nothing else waits for it: sheets are recorded,
//! developed and judged all the same.

use crate::domain::instant::Instant;

/// A value may be held back until it was tried so often.
pub const TRIES: usize = 2;
/// Most of what a student writes of their working, in characters.
pub const LONGEST_WORKING: usize = 2_000;
/// The longest answer, in characters.
pub const LONGEST_ANSWER: usize = 40;

/// A value that may be asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Figure {
    /// The hole diameter the camera asks for.
    HoleDiameter,
    /// The f-number with the hole as measured.
    FNumber,
    /// The angle of view across the film.
    AngleOfView,
    /// The metered exposure time, before reciprocity and experience.
    ExposureTime,
    /// How much concentrate a working solution takes.
    Dilution,
    /// How much silver some sheets leave in the fixer's tray.
    Silver,
}

impl Figure {
    /// In the order of the work.
    pub const ALL: [Self; 6] =
        [Self::HoleDiameter, Self::FNumber, Self::AngleOfView, Self::ExposureTime, Self::Dilution, Self::Silver];

    /// The word for people, which is also the stored one.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::HoleDiameter => "hole diameter",
            Self::FNumber => "f-number",
            Self::AngleOfView => "angle of view",
            Self::ExposureTime => "exposure time",
            Self::Dilution => "dilution",
            Self::Silver => "silver",
        }
    }

    /// What is asked, for who chooses it.
    pub fn words(self) -> &'static str {
        match self {
            Self::HoleDiameter => "Hole diameter the camera asks for",
            Self::FNumber => "f-number with the hole as measured",
            Self::AngleOfView => "Angle of view across the film",
            Self::ExposureTime => "Exposure time by the meter, before reciprocity",
            Self::Dilution => "Concentrate for a working solution",
            Self::Silver => "Silver that sheets leave in the fixer’s tray",
        }
    }

    /// Its name in a form’s fields.
    pub fn slug(self) -> &'static str {
        match self {
            Self::HoleDiameter => "hole-diameter",
            Self::FNumber => "f-number",
            Self::AngleOfView => "angle-of-view",
            Self::ExposureTime => "exposure-time",
            Self::Dilution => "dilution",
            Self::Silver => "silver",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|figure| figure.as_str() == word)
    }

    /// From its name in a form or an address.
    pub fn from_slug(slug: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|figure| figure.slug() == slug)
    }

    /// Whether it is about trays, which film in a body cap never sees.
    pub fn is_about_trays(self) -> bool {
        matches!(self, Self::Dilution | Self::Silver)
    }

    /// Usual tolerance in thousandths: what careful reading and rounding leave open. Common
    /// practice, no source; the instructor sets their own.
    pub fn usual_tolerance_milli(self) -> i64 {
        match self {
            Self::HoleDiameter | Self::FNumber | Self::AngleOfView | Self::Dilution => 20,
            Self::ExposureTime | Self::Silver => 50,
        }
    }
}

/// One value asked in a session, and how near is near enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ask {
    /// Which.
    pub figure: Figure,
    /// How far off still counts as right, thousandths of the value.
    pub tolerance_milli: i64,
    /// At least so many significant figures …
    pub least_figures: i64,
    /// … and at most so many.
    pub most_figures: i64,
}

/// What came of a try.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Near enough, with figures enough.
    Right,
    /// Near enough, but given with fewer significant figures than asked.
    TooFewFigures,
    /// Near enough, but given with more significant figures than can be known.
    TooManyFigures,
    /// Too far off.
    Off,
}

impl Outcome {
    /// The word for people, which is also the stored one.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Right => "right",
            Self::TooFewFigures => "too few figures",
            Self::TooManyFigures => "too many figures",
            Self::Off => "off",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Right, Self::TooFewFigures, Self::TooManyFigures, Self::Off].into_iter().find(|it| it.as_str() == word)
    }
}

/// One try as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Try {
    /// Which value.
    pub figure: Figure,
    /// The first or the second.
    pub attempt: i64,
    /// The question with its numbers, as it stood.
    pub question: String,
    /// The answer as typed.
    pub answer: String,
    /// In which unit.
    pub unit: String,
    /// How the student got there.
    pub working: String,
    /// The server’s own value then.
    pub expected: String,
    /// How it came about.
    pub expected_by: String,
    /// The answer over the value, less one, in millionths.
    pub error_ppm: i64,
    /// What was near enough, thousandths.
    pub tolerance_milli: i64,
    /// What came of it.
    pub outcome: Outcome,
    /// The likely slip; empty when none is recognised.
    pub slip: String,
    /// When.
    pub tried_at: Instant,
}

/// Whether a value opens after these tries of it.
pub fn is_open(tries: &[Try]) -> bool {
    tries.len() >= TRIES || tries.iter().any(|tried| tried.outcome == Outcome::Right)
}

/// The values that are held back from somebody now. Views ask it whether they may show one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HeldBack(Vec<Figure>);

impl HeldBack {
    /// Nothing is held back.
    pub const NOTHING: Self = Self(Vec::new());

    /// These are.
    pub fn of(figures: impl IntoIterator<Item = Figure>) -> Self {
        Self(figures.into_iter().collect())
    }

    /// Whether this value may be shown.
    pub fn shows(&self, figure: Figure) -> bool {
        !self.0.contains(&figure)
    }

    /// Whether the hole diameter to make may be shown.
    pub fn shows_hole(&self) -> bool {
        self.shows(Figure::HoleDiameter)
    }

    /// Whether the f-number may be shown.
    pub fn shows_f_number(&self) -> bool {
        self.shows(Figure::FNumber)
    }

    /// Whether the angle of view may be shown.
    pub fn shows_angle(&self) -> bool {
        self.shows(Figure::AngleOfView)
    }

    /// Whether exposure times may be shown.
    pub fn shows_time(&self) -> bool {
        self.shows(Figure::ExposureTime)
    }

    /// Whether all that something reveals may be shown.
    pub fn shows_all(&self, reveals: Reveals) -> bool {
        reveals.0.iter().all(|figure| self.shows(*figure))
    }

    /// The value in words, or what stands in its place while it is held back.
    pub fn or_held(&self, figure: Figure, shown: impl FnOnce() -> String) -> String {
        if self.shows(figure) { shown() } else { HELD.to_owned() }
    }

    /// Those held back, in the order of the work.
    pub fn figures(&self) -> &[Figure] {
        &self.0
    }

    /// What is held back from any of several people, as on a card they share.
    #[must_use]
    pub fn and(mut self, other: Self) -> Self {
        self.0.extend(other.0);
        self.0.sort_unstable();
        self.0.dedup();
        self
    }
}

/// The own figures that whoever reads a shown value would know. Every value says it where it is put together, so
/// that none is shown because nobody thought of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reveals(&'static [Figure]);

impl Reveals {
    /// None of them.
    pub const NOTHING: Self = Self(&[]);
    /// The hole diameter to make.
    pub const HOLE: Self = Self(&[Figure::HoleDiameter]);
    /// The f-number with the hole as measured.
    pub const F_NUMBER: Self = Self(&[Figure::FNumber]);
    /// The hole to make and the f-number it would have: with the hole-to-film distance, one gives the other.
    pub const TARGET: Self = Self(&[Figure::FNumber, Figure::HoleDiameter]);
    /// The angle of view.
    pub const ANGLE: Self = Self(&[Figure::AngleOfView]);
    /// The exposure time.
    pub const TIME: Self = Self(&[Figure::ExposureTime]);
}

/// What stands where a value is held back.
pub const HELD: &str = "yours to work out";

/// A unit an answer may be given in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// As it is written; empty for a pure number.
    pub sign: &'static str,
    /// How much of the question’s own unit one of it is.
    pub per: f64,
}

/// A wrong way with this question’s own numbers, and where it leads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slip {
    /// The value it gives, in the question’s own unit.
    pub gives: f64,
    /// What was probably done, as a sentence.
    pub words: &'static str,
}

/// A question with one student’s own numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// What is asked for.
    pub figure: Figure,
    /// The question with its numbers.
    pub words: String,
    /// The value, in the first of the units.
    pub value: f64,
    /// The value for people, with its unit.
    pub expected: String,
    /// How it comes about.
    pub expected_by: String,
    /// The units an answer may be given in; the first is the question’s own.
    pub units: &'static [Unit],
    /// Slips that can be told by where they lead.
    pub slips: Vec<Slip>,
}

/// An answer judged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Judged {
    /// The answer over the value, less one, in millionths.
    pub error_ppm: i64,
    /// What came of it.
    pub outcome: Outcome,
    /// The likely slip; empty when none is recognised, or the answer is right.
    pub slip: &'static str,
}

/// Slips known by where they lead must be met this closely: nearer than any two of them lie.
const SLIP_NEAR: f64 = 0.015;

impl Question {
    /// Judges an answer.
    ///
    /// # Errors
    /// When it is no number, or its unit is not offered; in words.
    pub fn judge(&self, ask: Ask, typed: &str, unit: &str) -> Result<Judged, String> {
        let unit = self.units.iter().find(|offered| offered.sign == unit).ok_or("choose one of the units offered")?;
        let (number, written) = read_number(typed)?;
        let answer = number * unit.per;
        let error = answer / self.value - 1.0;
        let near = error.abs() <= ask.tolerance_milli as f64 / 1000.0 + 1e-9
            // a value given with as many figures as were asked, and rounded well, is not off
            || rounds_to(self.value / unit.per, number, written.most) && written.most >= ask.least_figures;
        let outcome = if !near {
            Outcome::Off
        } else if written.most < ask.least_figures {
            Outcome::TooFewFigures
        } else if written.least > ask.most_figures {
            Outcome::TooManyFigures
        } else {
            Outcome::Right
        };
        let slip = if near { "" } else { self.slip_of(answer) };
        let error_ppm = (error * 1e6).round().clamp(-1e15, 1e15) as i64;
        Ok(Judged { error_ppm, outcome, slip })
    }

    fn slip_of(&self, answer: f64) -> &'static str {
        let off = |slip: &Slip| (answer / slip.gives - 1.0).abs();
        let nearest = self.slips.iter().filter(|slip| off(slip) <= SLIP_NEAR).min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.map_or("", |slip| slip.words)
    }
}

/// How many significant figures a number was written with; trailing zeros before the point may
/// count or not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Written {
    /// At least.
    pub least: i64,
    /// At most.
    pub most: i64,
}

/// Reads a number as a student types it: `0.48`, `0,48`, `4.8e-1`; positive, finite.
///
/// # Errors
/// When it is none, in words.
pub fn read_number(typed: &str) -> Result<(f64, Written), String> {
    let refused = || "must be a number greater than zero, for example 0.48".to_owned();
    let plain = typed.trim().replace(',', ".");
    let (mantissa, _) = plain.split_once(['e', 'E']).unwrap_or((&plain, ""));
    let digits_and_point = !mantissa.is_empty() && mantissa.chars().all(|c| c.is_ascii_digit() || c == '.');
    let number = plain.parse::<f64>().ok().filter(|number| number.is_finite() && *number > 0.0);
    let number = number.filter(|_| digits_and_point).ok_or_else(refused)?;
    let digits: String = mantissa.chars().filter(char::is_ascii_digit).collect();
    let significant = digits.trim_start_matches('0');
    let count = |text: &str| i64::try_from(text.len()).unwrap_or(i64::MAX);
    let most = count(significant);
    let least = if mantissa.contains('.') { most } else { count(significant.trim_end_matches('0')) };
    Ok((number, Written { least, most }))
}

/// Whether `number` is `value` rounded to so many significant figures.
fn rounds_to(value: f64, number: f64, figures: i64) -> bool {
    let figures = i32::try_from(figures).unwrap_or(9).clamp(1, 12);
    let place = 10f64.powi(value.abs().log10().floor() as i32 + 1 - figures);
    (value - number).abs() <= place / 2.0 * (1.0 + 1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const MM: &[Unit] = &[Unit { sign: "mm", per: 1.0 }, Unit { sign: "in", per: 25.4 }];

    fn question() -> Question {
        Question {
            figure: Figure::HoleDiameter,
            words: "d = C √(λ f′)".to_owned(),
            value: 0.4881,
            expected: "0.488 mm".to_owned(),
            expected_by: String::new(),
            units: MM,
            slips: vec![
                Slip { gives: 0.24405, words: "the radius" },
                Slip { gives: 0.4881 / 25.4, words: "inches for millimetres" },
            ],
        }
    }

    const ASK: Ask = Ask { figure: Figure::HoleDiameter, tolerance_milli: 20, least_figures: 2, most_figures: 4 };

    fn judged(typed: &str, unit: &str) -> (Outcome, &'static str) {
        let judged = question().judge(ASK, typed, unit).expect("a number");
        (judged.outcome, judged.slip)
    }

    #[test]
    fn near_enough_with_figures_enough_is_right_in_either_unit() {
        for (typed, unit) in [("0.488", "mm"), ("0,49", "mm"), ("0.01922", "in"), ("4.9e-1", "mm"), ("0.480", "mm")] {
            assert_eq!(judged(typed, unit).0, Outcome::Right, "{typed} {unit}");
        }
        assert_eq!(judged("0.5", "mm").0, Outcome::Off, "one figure, two and a half per cent off");
        assert_eq!(judged("0.48812", "mm").0, Outcome::TooManyFigures);
        let coarse = Ask { tolerance_milli: 100, ..ASK };
        assert_eq!(question().judge(coarse, "0.5", "mm").expect("a number").outcome, Outcome::TooFewFigures);
    }

    #[test]
    fn a_value_rounded_well_to_the_figures_asked_is_never_off() {
        let narrow = Ask { tolerance_milli: 1, ..ASK };
        assert_eq!(question().judge(narrow, "0.49", "mm").expect("a number").outcome, Outcome::Right);
        assert_eq!(question().judge(narrow, "0.48", "mm").expect("a number").outcome, Outcome::Off);
    }

    #[test]
    fn a_slip_is_told_by_where_it_leads() {
        assert_eq!(judged("0.244", "mm"), (Outcome::Off, "the radius"));
        assert_eq!(judged("0.0192", "mm"), (Outcome::Off, "inches for millimetres"));
        assert_eq!(judged("0.7", "mm"), (Outcome::Off, ""));
    }

    #[test]
    fn significant_figures_are_counted_as_written() {
        for (typed, least, most) in
            [("0.048", 2, 2), ("0.0480", 3, 3), ("480", 2, 3), ("480.", 3, 3), ("4.80e2", 3, 3), ("1", 1, 1)]
        {
            assert_eq!(read_number(typed).expect("a number").1, Written { least, most }, "{typed}");
        }
        for typed in ["", "0", "-1", "+1", "0,0", "half", "1/2", "NaN", "inf", "1e999", "e5", "1.2.3"] {
            assert!(read_number(typed).is_err(), "{typed}");
        }
    }

    #[test]
    fn a_value_opens_when_it_is_right_or_was_tried_twice() {
        let tried = |attempt, outcome| Try {
            figure: Figure::FNumber,
            attempt,
            question: String::new(),
            answer: "1".to_owned(),
            unit: String::new(),
            working: String::new(),
            expected: String::new(),
            expected_by: String::new(),
            error_ppm: 0,
            tolerance_milli: 20,
            outcome,
            slip: String::new(),
            tried_at: Instant::from_micros(1_774_029_600_000_000).expect("in range"),
        };
        assert!(!is_open(&[]));
        assert!(!is_open(&[tried(1, Outcome::Off)]));
        assert!(is_open(&[tried(1, Outcome::Right)]));
        assert!(is_open(&[tried(1, Outcome::Off), tried(2, Outcome::TooFewFigures)]));
    }

    #[test]
    fn a_card_that_several_share_holds_back_what_any_of_them_has_not_worked_out() {
        let one = HeldBack::of([Figure::FNumber]);
        let both = one.clone().and(HeldBack::of([Figure::HoleDiameter, Figure::FNumber]));
        assert!(!both.shows(Figure::HoleDiameter) && one.shows(Figure::HoleDiameter));
        assert_eq!(both.figures(), [Figure::HoleDiameter, Figure::FNumber]);
        assert_eq!(both.or_held(Figure::FNumber, || "f/250".to_owned()), HELD);
    }

    proptest! {
        #[test]
        fn the_value_itself_is_right_however_it_is_rounded(value in 1e-4_f64..1e6, figures in 2_usize..5, tolerance in 1_i64..500) {
            let question = Question { value, ..question() };
            let ask = Ask { tolerance_milli: tolerance, least_figures: 2, most_figures: 4, ..ASK };
            let typed = format!("{value:.*e}", figures - 1);
            let judged = question.judge(ask, &typed, "mm").expect("a number");
            prop_assert_eq!(judged.outcome, Outcome::Right, "{} as {}", value, typed);
        }

        #[test]
        fn reading_never_panics(typed in "\\PC{0,30}") {
            let _ = question().judge(ASK, &typed, "mm");
        }
    }
}
