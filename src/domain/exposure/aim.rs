//! Where on the film a sheet is exposed for: the middle, or a point that gets less light.

use crate::calc::{
    optics::fall_off::{fall_off_curved, fall_off_flat},
    working::plain,
};

use crate::domain::camera::{Body, Geometry};

/// A place on the film.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Spot {
    /// Opposite the hole.
    #[default]
    Middle,
    /// Half way up, at the left or right edge.
    SideEdge,
    /// In the middle of the upper or lower edge.
    TopEdge,
    /// A corner.
    Corner,
    /// So many millimetres across and up from the middle.
    Point {
        /// Across, along the film where it is bent.
        across_mm: f64,
        /// Up or down.
        up_mm: f64,
    },
}

/// A point that cannot be exposed for.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NotASpot {
    /// It is not two lengths.
    #[error("type how far across and how far up from the middle in mm, such as 30 x 20")]
    Unreadable,
    /// It lies off the film.
    #[error("that point lies off the film: it ends {0} mm across and {1} mm up from the middle")]
    OffFilm(String, String),
    /// Hardly any light gets there.
    #[error("hardly any light reaches that point")]
    Dark,
}

impl Spot {
    /// Those that a form lists by name.
    pub const NAMED: [Self; 4] = [Self::Middle, Self::SideEdge, Self::TopEdge, Self::Corner];

    /// What a form sends.
    pub fn key(self) -> &'static str {
        match self {
            Self::Middle => "middle",
            Self::SideEdge => "side",
            Self::TopEdge => "top",
            Self::Corner => "corner",
            Self::Point { .. } => "point",
        }
    }

    /// From what a form sent; a point is not among them.
    pub fn from_key(key: &str) -> Option<Self> {
        Self::NAMED.into_iter().find(|spot| spot.key() == key)
    }

    /// In words.
    pub fn label(self) -> String {
        match self {
            Self::Middle => "the middle of the film".to_owned(),
            Self::SideEdge => "the left and right edge".to_owned(),
            Self::TopEdge => "the upper and lower edge".to_owned(),
            Self::Corner => "the corners".to_owned(),
            Self::Point { across_mm, up_mm } => {
                format!("a point {} mm across, {} mm up", plain(across_mm), plain(up_mm))
            }
        }
    }

    /// From what [`Spot::label`] wrote; the middle when nothing was.
    pub fn from_label(label: &str) -> Option<Self> {
        if label.is_empty() {
            return Some(Self::Middle);
        }
        if let Some(named) = Self::NAMED.into_iter().find(|spot| spot.label() == label) {
            return Some(named);
        }
        let (across, up) = label.strip_prefix("a point ")?.strip_suffix(" mm up")?.split_once(" mm across, ")?;
        Some(Self::Point { across_mm: across.parse().ok()?, up_mm: up.parse().ok()? })
    }

    /// Reads a point: `30 x 20`, `30 × -20 mm`, `12,5 x 0`, `1 x 0.5 in`.
    ///
    /// # Errors
    /// When it is not two lengths, in millimetres or all in inches.
    pub fn parse_point(text: &str) -> Result<Self, NotASpot> {
        let lower = text.trim().to_lowercase().replace('×', "x").replace("mm", "").replace('−', "-");
        let (lower, unit_mm) = match lower.strip_suffix("in").or_else(|| lower.strip_suffix('"')) {
            Some(inches) => (inches.to_owned(), 25.4),
            None => (lower, 1.0),
        };
        let (across, up) = lower.split_once('x').ok_or(NotASpot::Unreadable)?;
        let length = |part: &str| {
            let part = part.trim();
            let digits = part.strip_prefix('-').unwrap_or(part);
            let plain = !digits.is_empty()
                && digits.len() <= 8
                && digits.bytes().all(|b| b.is_ascii_digit() || b == b'.' || b == b',');
            let number: Option<f64> = if plain { part.replace(',', ".").parse().ok() } else { None };
            // to the hundredth of a millimetre, as it is shown again
            number.map(|number| (number * unit_mm * 100.0).round() / 100.0).ok_or(NotASpot::Unreadable)
        };
        Ok(Self::Point { across_mm: length(across)?, up_mm: length(up)? })
    }
}

/// A place on a camera's film, with the stops more that it asks for.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Aim {
    spot: Spot,
    stops: f64,
}

impl Aim {
    /// The middle.
    pub const MIDDLE: Self = Self { spot: Spot::Middle, stops: 0.0 };

    /// The most stops that can be asked for.
    const MOST_STOPS: f64 = 20.0;

    /// A place on the film of this camera.
    ///
    /// # Errors
    /// When the point lies off the film, or hardly any light gets there.
    pub fn at(spot: Spot, body: &Body) -> Result<Self, NotASpot> {
        // a disc has no corner: its edge stands for all of them
        let (half_width, half_height, round) = match body.geometry() {
            Geometry::FlatRectangle(width, height) | Geometry::Curved(width, height, _) => {
                (width.as_mm() / 2.0, height.as_mm() / 2.0, false)
            }
            Geometry::FlatDisc(diameter) => (diameter.as_mm() / 2.0, diameter.as_mm() / 2.0, true),
        };
        let (x, y) = match spot {
            Spot::Middle => (0.0, 0.0),
            Spot::SideEdge => (half_width, 0.0),
            Spot::TopEdge => (0.0, half_height),
            Spot::Corner if round => (half_width, 0.0),
            Spot::Corner => (half_width, half_height),
            Spot::Point { across_mm, up_mm } => (across_mm, up_mm),
        };
        let off = x.abs() > half_width || y.abs() > half_height || (round && x.hypot(y) > half_width);
        if off {
            return Err(NotASpot::OffFilm(plain(half_width), plain(half_height)));
        }
        let share = match body.geometry() {
            Geometry::Curved(_, _, inside) => fall_off_curved(x, y, inside).relative,
            _ => fall_off_flat(x, y, body.hole_to_film()),
        };
        let stops = share.loss_stops();
        if stops.is_finite() && stops <= Self::MOST_STOPS {
            Ok(Self { spot, stops: stops.max(0.0) })
        } else {
            Err(NotASpot::Dark)
        }
    }

    /// From what is stored: the place in words and thousandths of a stop.
    pub fn from_stored(words: &str, stops_milli: i64) -> Option<Self> {
        Some(Self { spot: Spot::from_label(words)?, stops: stops_milli as f64 / 1000.0 })
    }

    /// The place.
    pub fn spot(self) -> Spot {
        self.spot
    }

    /// How many stops more it asks for.
    pub fn stops(self) -> f64 {
        self.stops
    }

    /// The same in thousandths, as it is stored.
    pub fn stops_milli(self) -> i64 {
        (self.stops * 1000.0).round() as i64
    }

    /// The place in words as it is stored: empty for the middle.
    pub fn words(self) -> String {
        if self.spot == Spot::Middle { String::new() } else { self.spot.label() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        camera::{Build, Film, Typed},
        measure::length::Length,
    };

    fn mm(value: f64) -> Typed {
        Typed { length: Length::from_mm(value), typed: format!("{value} mm") }
    }

    /// A flat 4x5 in sheet at 75 mm: its corner is 47.4 degrees off the axis and gets 2.25 stops less
    /// (cos⁴, computed for this project by a second method).
    #[test]
    fn the_corner_of_a_flat_sheet_in_a_short_box_wants_two_and_a_quarter_stops_more() {
        let film = Film::FlatRectangle { distance: mm(75.0), width: mm(127.0), height: mm(101.6) };
        let body = Body::new(Build::Box, film).expect("a box");
        let at = |spot| Aim::at(spot, &body);
        assert!((at(Spot::Corner).expect("on the film").stops() - 2.25).abs() < 0.01);
        assert_eq!(at(Spot::Middle), Ok(Aim::MIDDLE));
        let own = at(Spot::parse_point("63,5 x -50.8 mm").expect("a point")).expect("on the film");
        assert!((own.stops() - 2.25).abs() < 0.01);
        assert!(matches!(at(Spot::parse_point("80 x 0").expect("a point")), Err(NotASpot::OffFilm(..))));
    }

    #[test]
    fn along_the_arc_of_a_can_nothing_is_lost() {
        let film = Film::Curved { inside_diameter: mm(120.0), width: mm(170.0), height: mm(100.0) };
        let body = Body::new(Build::SideHoleCan, film).expect("a can");
        assert!(Aim::at(Spot::SideEdge, &body).expect("on the film").stops() < 1e-9);
        assert!(Aim::at(Spot::TopEdge, &body).expect("on the film").stops() > 0.3);
    }

    #[test]
    fn a_place_is_found_again_by_its_words() {
        for spot in [Spot::Middle, Spot::Corner, Spot::Point { across_mm: 12.5, up_mm: -3.0 }] {
            assert_eq!(Spot::from_label(&spot.label()), Some(spot));
        }
        assert_eq!(Spot::parse_point("1 x -0.5 in"), Ok(Spot::Point { across_mm: 25.4, up_mm: -12.7 }));
        for bad in ["", "30", "30 x", "a x b", "1e3 x 2"] {
            assert_eq!(Spot::parse_point(bad), Err(NotASpot::Unreadable), "{bad}");
        }
    }
}
