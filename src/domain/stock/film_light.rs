//! Which colours a paper or film sees, and so the light that draws a camera's picture.

use crate::calc::optics::diffraction::Spectrum;

use super::{
    colours_seen::ColoursSeen,
    paper::{Paper, PaperKind},
};
use crate::domain::camera::Camera;

/// The light that draws the picture in a camera: daylight as what is in it sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FilmLight {
    seen: ColoursSeen,
    from: From,
}

/// What is known of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum From {
    /// The card in the stockroom says so.
    Card,
    /// The session's paper has a card that does not say.
    SilentCard,
    /// Film of the camera's own, while the session has paper.
    OwnFilm,
    /// There is no session yet.
    NoSession,
}

impl FilmLight {
    /// That of a camera in a session with this paper. A camera that skips the trays holds film of its own unless the
    /// session itself is about film.
    pub fn of(paper: Option<&Paper>, camera: &Camera) -> Self {
        let film = |seen| if seen == ColoursSeen::Unknown { ColoursSeen::All } else { seen };
        match paper {
            Some(paper) if !camera.uses_trays() && paper.kind == PaperKind::Paper => {
                Self { seen: ColoursSeen::All, from: From::OwnFilm }
            }
            Some(paper) => {
                let from = if paper.sees == ColoursSeen::Unknown { From::SilentCard } else { From::Card };
                let seen = match (paper.kind, paper.sees) {
                    (PaperKind::Film, seen) => film(seen),
                    (PaperKind::Paper, ColoursSeen::Unknown) => ColoursSeen::BlueAndGreen,
                    (PaperKind::Paper, seen) => seen,
                };
                Self { seen, from }
            }
            None if camera.uses_trays() => Self { seen: ColoursSeen::BlueAndGreen, from: From::NoSession },
            None => Self { seen: ColoursSeen::All, from: From::OwnFilm },
        }
    }

    /// The colours it is worked out with; never unknown.
    pub fn seen(self) -> ColoursSeen {
        self.seen
    }

    /// As the calculations take it.
    pub fn spectrum(self) -> Spectrum {
        match self.seen {
            ColoursSeen::Blue => Spectrum::blue_only(),
            ColoursSeen::BlueAndGreen | ColoursSeen::Unknown => Spectrum::blue_green(),
            ColoursSeen::All => Spectrum::panchromatic(),
        }
    }

    /// The same in words, after "in": "daylight on paper that sees blue only (…)".
    pub fn words(self) -> &'static str {
        match self.seen {
            ColoursSeen::Blue => "daylight on paper that sees blue only (360 to 500 nm, weighted by CIE daylight D55)",
            ColoursSeen::BlueAndGreen | ColoursSeen::Unknown => {
                "daylight on paper that sees blue and green (360 to 550 nm, weighted by CIE daylight D55)"
            }
            ColoursSeen::All => "light on film that sees all colours (400 to 650 nm evenly: our own plain model)",
        }
    }

    /// What sees it: "paper" or "film".
    pub fn holder(self) -> &'static str {
        if self.seen == ColoursSeen::All { "film" } else { "paper" }
    }

    /// Where that is known from, or what it is taken for.
    pub fn known_from(self) -> &'static str {
        match self.from {
            From::Card => "The colours are those on the card of the session’s paper or film.",
            From::SilentCard => {
                "The card of the session’s paper or film does not say which colours it sees: these are taken. The instructor can enter \
                 them in the stockroom."
            }
            From::OwnFilm => "A camera whose film skips the trays is taken to hold panchromatic film.",
            From::NoSession => "No session is planned yet: the colours of variable-contrast paper are taken.",
        }
    }

    /// What a picture's address says of the light.
    pub fn slug(self) -> &'static str {
        match self.seen {
            ColoursSeen::Blue => "blue",
            ColoursSeen::BlueAndGreen | ColoursSeen::Unknown => "bluegreen",
            ColoursSeen::All => "all",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        clock::World,
        domain::{
            camera::{Body, Build, Film, Typed},
            instant::Instant,
            measure::length::Length,
            stock::usual_stock,
        },
    };

    fn world() -> World {
        World::fixed(Instant::from_micros(1_774_029_600_000_000).expect("in range"))
    }

    fn camera(build: Build) -> Camera {
        let mm = |value: f64| Typed { length: Length::from_mm(value), typed: format!("{value} mm") };
        let film = Film::FlatRectangle { distance: mm(50.0), width: mm(36.0), height: mm(24.0) };
        let world = world();
        Camera {
            id: world.mint(),
            section: world.mint(),
            number: 1,
            body: Body::new(build, film).expect("a camera"),
            subject: None,
            remark: String::new(),
            created_at: Instant::from_micros(1_774_029_600_000_000).expect("in range"),
            version: 1,
        }
    }

    #[test]
    fn the_session_s_paper_says_in_which_light_a_box_draws_its_picture() {
        let world = world();
        let stock = usual_stock::papers(world.mint(), || world.mint());
        let resin = &stock[0];
        let of = |paper: &Paper| FilmLight::of(Some(paper), &camera(Build::Box));
        assert_eq!(of(resin).spectrum(), Spectrum::blue_green());
        let graded = Paper { sees: ColoursSeen::Blue, ..resin.clone() };
        assert_eq!(of(&graded).spectrum(), Spectrum::blue_only());
        assert!(of(&graded).known_from().contains("on the card"));
        let silent = of(&Paper { sees: ColoursSeen::Unknown, ..resin.clone() });
        assert_eq!(silent.spectrum(), Spectrum::blue_green());
        assert!(silent.known_from().contains("does not say"));
        assert_eq!(FilmLight::of(None, &camera(Build::Box)).seen(), ColoursSeen::BlueAndGreen);
    }

    #[test]
    fn film_in_a_body_cap_sees_all_colours_unless_its_own_card_says_less() {
        let world = world();
        let stock = usual_stock::papers(world.mint(), || world.mint());
        let (resin, film) = (&stock[0], &stock[2]);
        for paper in [None, Some(resin), Some(film)] {
            let light = FilmLight::of(paper, &camera(Build::BodyCap));
            assert_eq!(light.spectrum(), Spectrum::panchromatic(), "{paper:?}");
        }
        let ortho = Paper { sees: ColoursSeen::BlueAndGreen, ..film.clone() };
        assert_eq!(FilmLight::of(Some(&ortho), &camera(Build::BodyCap)).seen(), ColoursSeen::BlueAndGreen);
    }

    #[test]
    fn every_word_is_read_back() {
        for colours in ColoursSeen::ALL {
            assert_eq!(ColoursSeen::from_word(colours.as_str()), Some(colours));
        }
        assert_eq!(ColoursSeen::from_word("red"), None);
    }
}
