//! The light on a subject, as somebody described or measured it.

use crate::calc::{
    light::{
        exposure::{METER_CONSTANT_C, light_value_of_illuminance, light_value_of_meter},
        sky::{Light, Sky, SunFrom},
    },
    quantity::{Ev100, ExposureIndex, FNumber, Illuminance, MeterConstantC, OutOfRange},
    working::plain,
};

use super::sun_found::SunFound;
use crate::domain::measure::{decimal, typed_seconds::parse_seconds};

/// Where the light's value comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LightSource {
    /// A description of the sky.
    Sky,
    /// The height of the sun and a kind of sky.
    Sun,
    /// A reflected-light reading of the subject.
    Reflected,
    /// A lux reading at the subject.
    Lux,
}

impl LightSource {
    /// The stored word.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Sky => "sky",
            Self::Sun => "sun",
            Self::Reflected => "reflected",
            Self::Lux => "lux",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Sky, Self::Sun, Self::Reflected, Self::Lux].into_iter().find(|source| source.as_str() == word)
    }

    /// In words for people.
    pub fn label(self) -> &'static str {
        match self {
            Self::Sky => "a description of the sky",
            Self::Sun => "the sun’s height",
            Self::Reflected => "a reflected-light reading",
            Self::Lux => "a lux reading",
        }
    }
}

/// What is known of the light on the subject.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FoundLight {
    /// A sky, and where the sun stands.
    Sky(Sky, SunFrom),
    /// A kind of sky, by the height of the sun.
    Sun(SunFound),
    /// A reflected reading as EV at ISO 100.
    Ev(Ev100),
    /// A reflected reading as a shutter time at an f-number and an ISO speed.
    Meter(MeterReading),
    /// A lux reading.
    Lux(Illuminance),
}

/// What a reflected-light meter answered: a time at an f-number and a speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeterReading {
    /// Seconds.
    seconds: f64,
    f_number: FNumber,
    iso: ExposureIndex,
    ev100: Ev100,
}

/// A meter reading could not be read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NotALight {
    /// It is none of the forms we read.
    #[error("“{0}” is not a reading: type EV 15, or 1/125 f/16 ISO 100, or 5200 lx")]
    Unreadable(String),
    /// A number without saying of what.
    #[error("say what {0} is: EV {0}, or {0} lx")]
    Bare(String),
    /// Its number can be read two ways.
    #[error(transparent)]
    TwoWays(#[from] decimal::TwoWays),
    /// The number is outside what is possible.
    #[error("{0}")]
    OutOfRange(#[from] OutOfRange),
    /// A sky's letters that are not on the list.
    #[error("“{0}” is not on the list: letters of a sky such as FS or HO, EV 15, 1/125 f/16 ISO 100, or 5200 lx")]
    NoSuchSky(String),
}

/// The two letters that stand for a sky on a card written in the dark.
pub const SKY_LETTERS: [(&str, Sky); 8] = [
    ("SN", Sky::SandOrSnow),
    ("FS", Sky::FullSun),
    ("HZ", Sky::HazySun),
    ("CB", Sky::CloudyBright),
    ("HO", Sky::HeavyOvercast),
    ("OS", Sky::OpenShade),
    ("BS", Sky::BeforeSunset),
    ("SS", Sky::Sunset),
];

impl FoundLight {
    /// The light with its spread, for the forecast.
    pub fn light(self) -> Light {
        match self {
            Self::Sky(sky, sun) => sky.light(sun),
            Self::Sun(found) => found.light(),
            Self::Ev(ev100) => Light::metered(ev100),
            Self::Meter(reading) => Light::metered(reading.ev100),
            Self::Lux(lux) => Light::metered(ev_of_lux(lux)),
        }
    }

    /// Where it comes from.
    pub fn source(self) -> LightSource {
        match self {
            Self::Sky(..) => LightSource::Sky,
            Self::Sun(_) => LightSource::Sun,
            Self::Ev(_) | Self::Meter(_) => LightSource::Reflected,
            Self::Lux(_) => LightSource::Lux,
        }
    }

    /// In words, as it is stored: `full sun, distinct shadows; sun from the side`, `EV 14.5`,
    /// `1/125 f/16 ISO 100`, `5200 lx`. [`FoundLight::parse_words`] reads them again.
    pub fn in_words(self) -> String {
        match self {
            Self::Sky(sky, sun) if sky.has_shadows() => format!("{}; {}", sky.label(), sun.label()),
            Self::Sky(sky, _) => sky.label().to_owned(),
            Self::Sun(found) => found.in_words(),
            _ => self.reading(),
        }
    }

    /// A reading as one types it; empty for a sky and the sun.
    pub fn reading(self) -> String {
        match self {
            Self::Sky(..) | Self::Sun(_) => String::new(),
            Self::Ev(ev100) => format!("EV {}", plain(ev100.as_ev())),
            Self::Meter(MeterReading { seconds, f_number, iso, .. }) => {
                format!("{} f/{} ISO {}", shutter_text(seconds), plain(f_number.as_number()), plain(iso.as_number()))
            }
            Self::Lux(lux) => format!("{} lx", plain(lux.as_lx())),
        }
    }

    /// From what [`FoundLight::in_words`] wrote.
    pub fn parse_words(words: &str) -> Option<Self> {
        if let Some(found) = SunFound::parse_words(words) {
            return Some(Self::Sun(found));
        }
        let (sky, sun) = words.split_once("; ").unwrap_or((words, ""));
        match Sky::ALL.into_iter().find(|known| known.label() == sky) {
            Some(sky) => {
                let sun = SunFrom::ALL.into_iter().find(|known| known.label() == sun);
                Some(Self::Sky(sky, sun.unwrap_or_default()))
            }
            None => Self::parse_reading(words).ok(),
        }
    }

    /// Reads a meter's answer: `EV 15`, `15 EV`, `1/125 f/16 ISO 100` (in any order, ISO 100 when
    /// none is named), `5200 lx`, `5200 lux`.
    ///
    /// # Errors
    /// When it is none of these, or outside what is possible.
    pub fn parse_reading(text: &str) -> Result<Self, NotALight> {
        let typed = text.trim();
        decimal::read_one_way(typed)?;
        let unreadable = || NotALight::Unreadable(typed.chars().take(40).collect());
        let lower = typed.to_lowercase().replace(" at ", " ");
        if let Some(number) = lower.strip_suffix("lux").or_else(|| lower.strip_suffix("lx")) {
            let lux = Illuminance::new(decimal(number).ok_or_else(unreadable)?)?;
            return Ok(Self::Lux(lux));
        }
        if let Some(number) = lower.strip_prefix("ev").or_else(|| lower.strip_suffix("ev")) {
            let ev100 = Ev100::new(signed(number).ok_or_else(unreadable)?)?;
            return Ok(Self::Ev(ev100));
        }
        if signed(&lower).is_some() {
            return Err(NotALight::Bare(typed.to_owned()));
        }
        meter_reading(&lower).ok_or_else(unreadable)?.map(Self::Meter)
    }

    /// Reads what stands on a card: the letters of a sky, with `s` or `b` after them when the sun
    /// came from the side or from behind the subject (`FS`, `FS s`, `FS-b`), or a reading.
    ///
    /// # Errors
    /// When it is none of these.
    pub fn parse_card(text: &str) -> Result<Self, NotALight> {
        let typed = text.trim();
        let letters: String = typed.chars().filter(char::is_ascii_alphabetic).collect::<String>().to_uppercase();
        let only_letters = !typed.is_empty()
            && typed.chars().all(|c| c.is_ascii_alphabetic() || c == ' ' || c == '-' || c == '/' || c == '+');
        if !only_letters {
            return Self::parse_reading(typed);
        }
        let no_such = || NotALight::NoSuchSky(typed.chars().take(40).collect());
        let (code, sun) = letters.split_at_checked(2).ok_or_else(no_such)?;
        let sun = match sun {
            "" | "F" => SunFrom::Front,
            "S" => SunFrom::Side,
            "B" => SunFrom::Back,
            "O" => SunFrom::Shade,
            _ => return Err(no_such()),
        };
        let sky = SKY_LETTERS.into_iter().find(|(known, _)| *known == code).ok_or_else(no_such)?.1;
        Ok(Self::Sky(sky, if sky.has_shadows() { sun } else { SunFrom::Front }))
    }
}

fn ev_of_lux(lux: Illuminance) -> Ev100 {
    let c = MeterConstantC::new(METER_CONSTANT_C).unwrap_or_else(|_| unreachable!("250 lies within its range"));
    light_value_of_illuminance(lux, c)
}

/// A time, an f-number and perhaps an ISO speed, in any order. `None` when it is none of that.
fn meter_reading(lower: &str) -> Option<Result<MeterReading, NotALight>> {
    let spaced = lower.replace([',', ';'], " ").replace("iso", " iso ").replace("f/", " f/").replace("sec", "s");
    let mut words = spaced.split_whitespace().peekable();
    let (mut time, mut aperture, mut iso) = (None, None, None);
    while let Some(word) = words.next() {
        if word == "iso" {
            iso = Some(decimal(words.next()?)?);
        } else if let Some(number) = word.strip_prefix("f/").or_else(|| word.strip_prefix('f')) {
            let number = if number.is_empty() { words.next()? } else { number };
            aperture = Some(decimal(number)?);
        } else if time.is_none() {
            let with_unit = words.next_if(|next| *next == "s").is_some();
            time = Some(if with_unit { format!("{word} s") } else { word.to_owned() });
        } else {
            return None;
        }
    }
    let (time, aperture) = (time?, aperture?);
    let seconds = parse_seconds(&time).ok()?;
    let read = || {
        let f_number = FNumber::new(aperture)?;
        let iso = ExposureIndex::new(iso.unwrap_or(100.0))?;
        let ev100 = Ev100::new(light_value_of_meter(f_number, seconds, iso))?;
        Ok(MeterReading { seconds: seconds.as_s(), f_number, iso, ev100 })
    };
    Some(read().map_err(|error: OutOfRange| NotALight::OutOfRange(error)))
}

/// A shutter time as a meter writes it: `1/125`, or `2 s` from a second up.
fn shutter_text(seconds: f64) -> String {
    let below = (1.0 / seconds).round();
    if seconds < 1.0 && (below * seconds - 1.0).abs() < 1e-9 {
        format!("1/{below}")
    } else {
        format!("{}s", plain(seconds))
    }
}

fn decimal(text: &str) -> Option<f64> {
    let text = text.trim();
    let plain =
        !text.is_empty() && text.len() <= 12 && text.bytes().all(|b| b.is_ascii_digit() || b == b'.' || b == b',');
    if plain { text.replace(',', ".").parse().ok() } else { None }
}

fn signed(text: &str) -> Option<f64> {
    let text = text.trim();
    match text.strip_prefix(['-', '−']) {
        Some(rest) => decimal(rest).map(|number| -number),
        None => decimal(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ev(text: &str) -> f64 {
        FoundLight::parse_reading(text).expect("a reading").light().ev100.as_ev()
    }

    #[test]
    fn a_meter_may_answer_in_ev_in_lux_or_as_a_time_at_an_f_number() {
        assert_eq!(ev("EV 15"), 15.0);
        assert_eq!(ev("14,5 ev"), 14.5);
        assert_eq!(ev("-2 EV"), -2.0);
        // ISO 2720, incident light, C = 250: 100 E / C
        assert!((ev("5200 lx") - 2080f64.log2()).abs() < 1e-9);
        for text in ["1/125 f/16 ISO 100", "f16 1/125", "ISO100, f/16, 1/125", "1/125 at f/16, ISO 100", "1/125 s f/16"]
        {
            assert!((ev(text) - (256.0f64 * 125.0).log2()).abs() < 1e-9, "{text}");
        }
        assert!((ev("1/125 f/16 ISO 400") - ((256.0f64 * 125.0).log2() - 2.0)).abs() < 1e-9);
    }

    #[test]
    fn what_is_no_reading_is_refused_with_what_would_be_one() {
        for bad in ["bright", "1/125", "f/16", "EV", "lx", "1/125 f/16 ISO", "1/125 f/16 1/60", "EV 1e2"] {
            assert_eq!(FoundLight::parse_reading(bad), Err(NotALight::Unreadable(bad.to_owned())), "{bad}");
        }
        assert!(matches!(FoundLight::parse_reading("5,200 lx"), Err(NotALight::TwoWays(_))));
        assert_eq!(FoundLight::parse_reading("15"), Err(NotALight::Bare("15".to_owned())));
        let error = FoundLight::parse_reading("EV 40").expect_err("brighter than the sun");
        assert_eq!(error.to_string(), "exposure value at ISO 100 must be from -10 to 25 EV");
    }

    #[test]
    fn a_card_names_the_sky_by_letters() {
        assert_eq!(FoundLight::parse_card("fs"), Ok(FoundLight::Sky(Sky::FullSun, SunFrom::Front)));
        assert_eq!(FoundLight::parse_card("FS s"), Ok(FoundLight::Sky(Sky::FullSun, SunFrom::Side)));
        assert_eq!(FoundLight::parse_card("HZ-b"), Ok(FoundLight::Sky(Sky::HazySun, SunFrom::Back)));
        assert_eq!(FoundLight::parse_card("HO b"), Ok(FoundLight::Sky(Sky::HeavyOvercast, SunFrom::Front)));
        assert_eq!(FoundLight::parse_card("EV 12").map(FoundLight::source), Ok(LightSource::Reflected));
        assert!(matches!(FoundLight::parse_card("sunny"), Err(NotALight::NoSuchSky(_))));
        assert!(matches!(FoundLight::parse_card("F"), Err(NotALight::NoSuchSky(_))));
    }

    #[test]
    fn the_words_that_are_stored_are_read_again() {
        let mut lights: Vec<_> =
            Sky::ALL.into_iter().flat_map(|sky| SunFrom::ALL.map(|sun| FoundLight::Sky(sky, sun))).collect();
        lights.extend(
            ["EV 14.5", "1/125 f/16 ISO 100", "2s f/8 ISO 400", "0.3s f/22 ISO 50", "5200 lx"]
                .map(|text| FoundLight::parse_reading(text).expect("a reading")),
        );
        for light in lights {
            let again = FoundLight::parse_words(&light.in_words()).expect("our own words");
            assert_eq!(again.light(), light.light(), "{}", light.in_words());
        }
    }
}
