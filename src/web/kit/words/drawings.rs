//! Drawings of words: the same drawings as on the pages, of an example.

use askama::Template;

use crate::{
    calc::quantity::{HoleDiameter, PlateThickness, PointDiameter, ShaftDiameter, TaperLength},
    domain::{
        camera::{Body, Build, Film, Typed},
        exposure::verdict::Verdict,
        measure::length::{Length, LengthUnit},
    },
    drawing::{
        camera_section::CameraSection, fall_off_map::FallOffMap, hole_plate::HolePlate, level::Level, needle::Needle,
        negative::Negative, plate_section::PlateSection,
    },
};

const MM: LengthUnit = LengthUnit::Millimetre;

fn typed(mm: f64) -> Typed {
    Typed { length: Length::from_mm(mm), typed: format!("{mm} mm") }
}

fn example_box() -> Option<Body> {
    let film = Film::FlatRectangle { distance: typed(120.0), width: typed(127.0), height: typed(102.0) };
    Body::new(Build::Box, film).ok()
}

fn example_can() -> Option<Body> {
    let film = Film::Curved { inside_diameter: typed(110.0), width: typed(120.0), height: typed(90.0) };
    Body::new(Build::SideHoleCan, film).ok()
}

fn hole(mm: f64) -> Option<HoleDiameter> {
    HoleDiameter::new(mm).ok()
}

/// The drawing of the word at this address; `None` where words are enough.
pub(super) fn of(anchor: &str) -> Option<String> {
    let drawn = match anchor {
        "hole-to-film-distance" => CameraSection::of(&example_box()?, "word-box").render(),
        "side-hole-can" => CameraSection::of(&example_can()?, "word-can").render(),
        "fall-off" => FallOffMap::of("word-fall-off", &example_box()?, None).render(),
        "ovalness" => HolePlate::of("word-oval", None, &[hole(0.42)?, hole(0.55)?], MM).render(),
        "micrometer" => {
            let (shaft, taper, point) = (ShaftDiameter::new(0.8), TaperLength::new(8.0), PointDiameter::new(0.0));
            Needle::of("word-needle", shaft.ok()?, taper.ok()?, point.ok()?, 5.0, MM).render()
        }
        "image-circle" => PlateSection::of("word-plate", hole(0.5)?, PlateThickness::new(0.1).ok()?, 40.0, MM).render(),
        "paper-negative" => Negative::of("word-negative", Verdict::Right)?.render(),
        "capacity" => Level::of("word-capacity", 0.7, "Capacity used", "a bath\u{2019}s capacity").render(),
        _ => return None,
    };
    drawn.ok()
}

#[cfg(test)]
mod tests {
    use super::{super::list::GROUPS, *};

    #[test]
    fn every_drawing_belongs_to_a_word_and_is_drawn() {
        let anchors: Vec<String> =
            GROUPS.iter().flat_map(|group| group.words).map(super::super::Word::anchor).collect();
        for drawn in [
            "hole-to-film-distance",
            "side-hole-can",
            "fall-off",
            "ovalness",
            "micrometer",
            "image-circle",
            "paper-negative",
            "capacity",
        ] {
            assert!(anchors.contains(&drawn.to_owned()), "{drawn}");
            assert!(of(drawn).is_some_and(|svg| svg.contains("<svg")), "{drawn}");
        }
        assert_eq!(of("carry-over"), None);
    }
}
