//! How a sheet came out: judged in words that mean stops.
//!
//! The words and their stops are common practice with paper negatives; no source gives them.

/// How a negative looks, from much too pale to much too dark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// A trace of a picture.
    MuchTooPale,
    /// Thin all over.
    TooPale,
    /// Good, but thin in what should be darkest.
    ALittlePale,
    /// As it should be.
    Right,
    /// Good, but heavy.
    ALittleDark,
    /// Heavy all over.
    TooDark,
    /// A picture that can just be made out in black.
    MuchTooDark,
    /// No picture: white. Only a bound.
    AllWhite,
    /// No picture: black. Only a bound.
    AllBlack,
    /// Somebody gave a number of stops, from a comparison or a measurement.
    StopsGiven,
}

impl Verdict {
    /// Every verdict, from pale to dark, as a form lists them.
    pub const ALL: [Self; 10] = [
        Self::AllWhite,
        Self::MuchTooPale,
        Self::TooPale,
        Self::ALittlePale,
        Self::Right,
        Self::ALittleDark,
        Self::TooDark,
        Self::MuchTooDark,
        Self::AllBlack,
        Self::StopsGiven,
    ];

    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::MuchTooPale => "much too pale",
            Self::TooPale => "too pale",
            Self::ALittlePale => "a little pale",
            Self::Right => "right",
            Self::ALittleDark => "a little dark",
            Self::TooDark => "too dark",
            Self::MuchTooDark => "much too dark",
            Self::AllWhite => "all white",
            Self::AllBlack => "all black",
            Self::StopsGiven => "stops given",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|verdict| verdict.as_str() == word)
    }

    /// What the negative looks like, held against a white wall.
    pub fn looks(self) -> &'static str {
        match self {
            Self::MuchTooPale => "only the brightest things left a grey trace",
            Self::TooPale => "thin: the sky is grey, the ground is blank paper",
            Self::ALittlePale => "all there, but the sky is not quite black",
            Self::Right => "black sky, clear shadows, something to see in between",
            Self::ALittleDark => "all there, but shadows that should be paper white are grey",
            Self::TooDark => "heavy: the sky has swallowed its edges, hardly any white left",
            Self::MuchTooDark => "nearly black; the picture shows only against a bright window",
            Self::AllWhite => "blank paper, no picture at all",
            Self::AllBlack => "black from edge to edge, no picture at all",
            Self::StopsGiven => "you compared or measured it and know a number",
        }
    }

    /// How many stops more the sheet would have needed, in thousandths: pale is positive. `None`
    /// for a bound, and where a number is given beside it.
    pub fn stops_milli(self) -> Option<i64> {
        match self {
            Self::MuchTooPale => Some(2_000),
            Self::TooPale => Some(1_000),
            Self::ALittlePale => Some(500),
            Self::Right => Some(0),
            Self::ALittleDark => Some(-500),
            Self::TooDark => Some(-1_000),
            Self::MuchTooDark => Some(-2_000),
            Self::AllWhite | Self::AllBlack | Self::StopsGiven => None,
        }
    }

    /// What it means for the next sheet, in words: times the light, since reciprocity may ask for more than
    /// so many times the seconds.
    pub fn means(self) -> &'static str {
        match self {
            Self::MuchTooPale => "2 stops more: four times the light",
            Self::TooPale => "1 stop more: twice the light",
            Self::ALittlePale => "half a stop more: 1.4 times the light",
            Self::Right => "the same again",
            Self::ALittleDark => "half a stop less: 0.7 of the light",
            Self::TooDark => "1 stop less: half the light",
            Self::MuchTooDark => "2 stops less: a quarter of the light",
            Self::AllWhite => "only “more”: four times the light",
            Self::AllBlack => "only “less”: a quarter of the light",
            Self::StopsGiven => "as many stops as you give",
        }
    }

    /// How many times the light to give next: by its stops, or the wide step after a blank or solid sheet.
    /// `None` where a number is given beside it.
    pub fn next_light(self) -> Option<f64> {
        self.next_factor().or_else(|| self.stops_milli().map(|milli| (milli as f64 / 1000.0).exp2()))
    }

    /// For a blank or solid sheet: how many times the light to give next.
    pub fn next_factor(self) -> Option<f64> {
        match self {
            Self::AllWhite => Some(4.0),
            Self::AllBlack => Some(0.25),
            _ => None,
        }
    }
}

/// What spoiled a sheet, so that it says nothing about the exposure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Fault {
    /// Grey all over, borders too.
    Fog,
    /// A streak or an edge of light that came in elsewhere.
    Leak,
    /// The camera or the subject moved.
    Movement,
    /// Anything else: half developed, wrong way round, dropped.
    Other,
}

impl Fault {
    /// Every fault, as a form lists them.
    pub const ALL: [Self; 4] = [Self::Fog, Self::Leak, Self::Movement, Self::Other];

    /// The stored word.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Fog => "fog",
            Self::Leak => "leak",
            Self::Movement => "movement",
            Self::Other => "other",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fault| fault.as_str() == word)
    }

    /// What it looks like.
    pub fn looks(self) -> &'static str {
        match self {
            Self::Fog => "fog: grey all over, the covered borders too",
            Self::Leak => "leak: a black streak, edge or spot that is no part of the picture",
            Self::Movement => "movement: a double or smeared picture",
            Self::Other => "something else spoiled it: developed by halves, the wrong way round, dropped",
        }
    }
}

/// How a result in stops was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ResultSource {
    /// By eye on the negative.
    Eye,
    /// From a scan of the negative.
    Scan,
}

impl ResultSource {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Eye, Self::Scan];

    /// The stored word.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Eye => "eye",
            Self::Scan => "scan",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|source| source.as_str() == word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_is_found_again() {
        for verdict in Verdict::ALL {
            assert_eq!(Verdict::from_word(verdict.as_str()), Some(verdict));
        }
        for fault in Fault::ALL {
            assert_eq!(Fault::from_word(fault.as_str()), Some(fault));
        }
    }

    #[test]
    fn each_look_names_the_light_of_the_next_sheet() {
        assert_eq!(Verdict::MuchTooPale.next_light(), Some(4.0));
        assert_eq!(Verdict::AllBlack.next_light(), Some(0.25));
        assert_eq!((Verdict::Right.next_light(), Verdict::StopsGiven.next_light()), (Some(1.0), None));
    }

    #[test]
    fn pale_needs_more_and_a_blank_sheet_is_only_a_bound() {
        assert_eq!(Verdict::TooPale.stops_milli(), Some(1_000));
        assert_eq!(Verdict::MuchTooDark.stops_milli(), Some(-2_000));
        assert_eq!((Verdict::AllWhite.stops_milli(), Verdict::AllWhite.next_factor()), (None, Some(4.0)));
        assert_eq!((Verdict::AllBlack.stops_milli(), Verdict::AllBlack.next_factor()), (None, Some(0.25)));
    }
}
