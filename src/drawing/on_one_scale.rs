//! A starting exposure on a scale of stops: its interval as a band, the pieces to try, and the sheets made so far with how
//! they came out, each where its time lies.

use askama::Template;

use super::stops_scale::StopsScale;

/// As wide as a figure on a phone, so that its words keep their size there.
const WIDTH: f64 = 320.0;
const LEFT: f64 = 10.0;
const RIGHT: f64 = 310.0;
/// Where the band begins and how high it is.
const BAND_TOP: f64 = 26.0;
const BAND_HIGH: f64 = 18.0;
/// The line of the pieces to try.
const PIECES: f64 = 82.0;
/// The first sheet's line, and how far the next is.
const FIRST_SHEET: f64 = 122.0;
const STEP: f64 = 38.0;
/// Half the width of a sign.
const HALF: f64 = 6.0;

/// How a sheet came out, as far as its sign tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CameOut {
    /// Too pale: it needed longer.
    NeededLonger,
    /// Too dark: it needed less.
    NeededShorter,
    /// Right.
    Right,
    /// Nobody looked at it, or something spoiled it.
    TellsNothing,
}

/// A time with the words that a person reads for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Said {
    /// Seconds.
    pub seconds: f64,
    /// As it is said: `24 s`.
    pub words: String,
}

/// A sheet made so far.
#[derive(Clone, Debug, PartialEq)]
pub struct Tried {
    /// What stands beside its sign: `Sheet 12, 25 s here: too pale`. Some 48 characters have room on a phone.
    pub label: String,
    /// All that is known of it, for whoever cannot see the picture: `Sheet 12, 40 s (25 s here): too pale`.
    pub told: String,
    /// How it came out as a sign.
    pub came_out: CameOut,
    /// Where its time lies, seconds.
    pub made_s: f64,
    /// What would have been right, once somebody said so.
    pub right: Option<Said>,
}

/// The time asked for with its 80 % interval.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The time.
    pub time: Said,
    /// The interval's lower end.
    pub low: Said,
    /// Its upper end.
    pub high: Said,
}

/// The drawing.
#[derive(Debug, Template)]
#[template(path = "drawings/on_one_scale.html")]
pub struct OnOneScale {
    id: &'static str,
    description: String,
    interval: String,
    /// Left edge and width.
    band: (String, String),
    /// Both edges, carried on through the sheets.
    edges: [String; 2],
    time: String,
    pieces_words: String,
    pieces: Vec<String>,
    sheets: Vec<Line>,
    marks: Vec<(String, String, &'static str)>,
    base: f64,
}

#[derive(Debug)]
struct Line {
    text_y: String,
    words: String,
    /// From the sign to the time that would have been right: x1, x2, y.
    whisker: Option<(String, String, String)>,
    sign: String,
}

impl askama::filters::HtmlSafe for OnOneScale {}

impl OnOneScale {
    /// Draws a time asked for, pieces to try and sheets made. `id` begins the ids inside, unique on its page.
    pub fn of(id: &'static str, asked: &Asked, pieces: &[Said], sheets: &[Tried]) -> Self {
        let times = [asked.low.seconds, asked.time.seconds, asked.high.seconds].into_iter();
        let times = times.chain(pieces.iter().map(|piece| piece.seconds));
        let times =
            times.chain(sheets.iter().flat_map(|sheet| {
                std::iter::once(sheet.made_s).chain(sheet.right.as_ref().map(|right| right.seconds))
            }));
        let scale = StopsScale::holding(times, LEFT, RIGHT);
        let one = |value: f64| format!("{value:.1}");
        let at = |seconds: f64| one(scale.at(seconds));
        let interval = format!("{}; 8 times in 10 from {} to {}", asked.time.words, asked.low.words, asked.high.words);
        let all = pieces.iter().map(|piece| piece.words.as_str()).collect::<Vec<_>>().join(" · ");
        let pieces_words = format!("To try: {all}");
        let told = |sheet: &Tried| {
            let right = sheet.right.as_ref().filter(|_| sheet.came_out != CameOut::Right);
            let right = right.map_or(String::new(), |right| format!(", {} would have been right", right.words));
            format!("{}{right}.", sheet.told)
        };
        let description = [format!("The time for this light: {interval}."), format!("{pieces_words}.")]
            .into_iter()
            .chain(sheets.iter().map(told))
            .collect::<Vec<_>>()
            .join(" ");
        let line = |(row, sheet): (usize, &Tried)| {
            let y = FIRST_SHEET + row as f64 * STEP;
            Line {
                text_y: one(y - 12.0),
                words: sheet.label.clone(),
                whisker: sheet.right.as_ref().map(|right| (at(sheet.made_s), at(right.seconds), one(y))),
                sign: sign(sheet.came_out, scale.at(sheet.made_s), y),
            }
        };
        let marks = scale.marks().into_iter().map(|(x, words)| {
            // the outermost words stay within the picture
            let anchor = match x {
                x if x < LEFT + 14.0 => "start",
                x if x > RIGHT - 14.0 => "end",
                _ => "middle",
            };
            (one(x), words, anchor)
        });
        Self {
            id,
            description,
            interval,
            band: (at(asked.low.seconds), one((scale.at(asked.high.seconds) - scale.at(asked.low.seconds)).max(1.0))),
            edges: [at(asked.low.seconds), at(asked.high.seconds)],
            time: at(asked.time.seconds),
            pieces_words,
            pieces: pieces.iter().map(|piece| at(piece.seconds)).collect(),
            sheets: sheets.iter().enumerate().map(line).collect(),
            marks: marks.collect(),
            base: FIRST_SHEET - 18.0 + sheets.len() as f64 * STEP,
        }
    }

    fn width(&self) -> f64 {
        WIDTH
    }

    fn left(&self) -> f64 {
        LEFT
    }

    fn right(&self) -> f64 {
        RIGHT
    }

    fn height(&self) -> f64 {
        self.base + 26.0
    }

    fn tick(&self) -> f64 {
        self.base + 5.0
    }

    fn words_y(&self) -> f64 {
        self.base + 19.0
    }

    fn band_top(&self) -> f64 {
        BAND_TOP
    }

    fn band_high(&self) -> f64 {
        BAND_HIGH
    }

    fn pieces_from(&self) -> f64 {
        PIECES - 8.0
    }

    fn pieces_to(&self) -> f64 {
        PIECES + 8.0
    }
}

/// The sign of a sheet as a path: its shape points to where the right time lies.
fn sign(came_out: CameOut, x: f64, y: f64) -> String {
    let h = HALF;
    let at = |dx: f64, dy: f64| format!("{:.1} {:.1}", x + dx, y + dy);
    match came_out {
        CameOut::NeededLonger => format!("M{}L{}L{}Z", at(-h, -h), at(h, 0.0), at(-h, h)),
        CameOut::NeededShorter => format!("M{}L{}L{}Z", at(h, -h), at(-h, 0.0), at(h, h)),
        CameOut::Right => format!("M{}A{h} {h} 0 1 0 {}A{h} {h} 0 1 0 {}Z", at(-h, 0.0), at(h, 0.0), at(-h, 0.0)),
        CameOut::TellsNothing => {
            let h = h * 0.8;
            format!("M{}L{}L{}L{}Z", at(-h, -h), at(h, -h), at(h, h), at(-h, h))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(seconds: f64) -> Said {
        Said { seconds, words: format!("{seconds} s") }
    }

    fn asked() -> Asked {
        Asked { time: said(20.0), low: said(10.0), high: said(40.0) }
    }

    #[test]
    fn the_words_say_what_the_picture_shows_and_shapes_point_to_the_right_time() {
        let sheet = |label: &str, came_out, made_s, right| Tried {
            label: label.to_owned(),
            told: label.to_owned(),
            came_out,
            made_s,
            right,
        };
        let sheets = [
            sheet("Sheet 2, 10 s: too pale", CameOut::NeededLonger, 10.0, Some(said(20.0))),
            sheet("Sheet 1, 20 s: not looked at yet", CameOut::TellsNothing, 20.0, None),
        ];
        let picture = OnOneScale::of("scale", &asked(), &[said(10.0), said(20.0), said(40.0)], &sheets);
        assert_eq!(
            picture.description,
            "The time for this light: 20 s; 8 times in 10 from 10 s to 40 s. To try: 10 s · 20 s · 40 s. Sheet 2, 10 s: too \
             pale, 20 s would have been right. Sheet 1, 20 s: not looked at yet."
        );
        // a sheet of ten seconds stands under the band's lower end, its right time under the time asked for
        let (from, to, _) = picture.sheets[0].whisker.clone().expect("a way to the right time");
        assert_eq!((&from, &to), (&picture.edges[0], &picture.time));
        assert!(picture.sheets[1].whisker.is_none());
        let svg = picture.render().expect("a drawing");
        assert!(svg.contains("Sheet 2, 10 s: too pale</text>"), "{svg}");
        // the triangle's tip lies on the side of longer times
        let (pale, dark) = (sign(CameOut::NeededLonger, 100.0, 0.0), sign(CameOut::NeededShorter, 100.0, 0.0));
        assert!(pale.contains("L106.0 0.0") && dark.contains("L94.0 0.0"), "{pale} {dark}");
    }

    #[test]
    fn without_a_sheet_the_interval_and_the_pieces_stand_alone() {
        let picture = OnOneScale::of("scale", &asked(), &[said(20.0)], &[]);
        assert!(picture.sheets.is_empty() && picture.height() > PIECES + 20.0);
        assert!(picture.render().is_ok());
    }
}
