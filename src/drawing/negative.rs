//! What a paper negative looks like when it got too little light, enough, or too much: a drawing of
//! our own of one simple view, printed through a paper's curve.

use askama::Template;

use crate::domain::exposure::verdict::Verdict;

/// Parts of the view with the stops each lies above (below) the middle grey: sky, sunlit wall, grass,
/// trunk, door.
const SKY: f64 = 2.6;
const WALL: f64 = 1.5;
const GRASS: f64 = -0.2;
const ROOF: f64 = -1.2;
const DOOR: f64 = -2.4;

/// The negative of the view.
#[derive(Debug, Template)]
#[template(path = "drawings/negative.html")]
pub struct Negative {
    id: String,
    words: &'static str,
    description: String,
    border: String,
    sky: String,
    wall: String,
    grass: String,
    roof: String,
    door: String,
}

impl askama::filters::HtmlSafe for Negative {}

impl Negative {
    /// The negative that a verdict names. `id` begins the ids inside, unique on its page. `None` for a
    /// verdict that names no look.
    pub fn of(id: &str, verdict: Verdict) -> Option<Self> {
        // all white and all black lie beyond the paper's range
        let off = match verdict {
            Verdict::AllWhite => -7.0,
            Verdict::AllBlack => 7.0,
            Verdict::StopsGiven => return None,
            judged => -(judged.stops_milli()? as f64) / 1000.0,
        };
        let grey = |stops: f64| tone(stops + off);
        Some(Self {
            id: id.to_owned(),
            words: verdict.as_str(),
            description: format!("Negative, {}: {}.", verdict.as_str(), verdict.looks()),
            // the border lay under the edge of the holder
            border: tone(-9.0),
            sky: grey(SKY),
            wall: grey(WALL),
            grass: grey(GRASS),
            roof: grey(ROOF),
            door: grey(DOOR),
        })
    }
}

/// The grey of a negative where it got so many stops more than the middle: paper white where it got
/// nothing, black where it got more than the paper holds. A curve of about grade 2: from white to
/// black in some six stops (drawn by eye; for telling looks apart, not for measuring).
fn tone(stops: f64) -> String {
    let density = 1.0 / (1.0 + (-1.15 * stops).exp());
    // paper is not quite white, its black not quite black
    let grey = (244.0 - density * 222.0).round() as u8;
    format!("#{grey:02x}{grey:02x}{grey:02x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grey(colour: &str) -> u8 {
        u8::from_str_radix(&colour[1..3], 16).expect("a grey")
    }

    #[test]
    fn each_verdict_is_darker_than_the_one_before() {
        let order = [
            Verdict::AllWhite,
            Verdict::MuchTooPale,
            Verdict::TooPale,
            Verdict::ALittlePale,
            Verdict::Right,
            Verdict::ALittleDark,
            Verdict::TooDark,
            Verdict::MuchTooDark,
            Verdict::AllBlack,
        ];
        let skies: Vec<u8> =
            order.iter().map(|verdict| grey(&Negative::of("n", *verdict).expect("a look").grass)).collect();
        assert!(skies.windows(2).all(|pair| pair[1] < pair[0]), "{skies:?}");
        assert!(Negative::of("n", Verdict::StopsGiven).is_none());
    }

    #[test]
    fn a_right_negative_has_a_black_sky_a_clear_door_and_greys_between() {
        let right = Negative::of("n", Verdict::Right).expect("a look");
        assert!(grey(&right.sky) < 50 && grey(&right.door) > 210, "{right:?}");
        assert!((80..200).contains(&grey(&right.grass)), "{right:?}");
        assert!(right.render().expect("a drawing").contains("Negative, right"));
    }
}
